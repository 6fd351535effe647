import { expect, test } from 'vitest';
import { scorePairs } from '../../../bench/senders/score.ts';
import { groupByMessage } from '../../../src/capture/select.ts';
import { findSenders } from '../../../src/findings/senders/index.ts';
import { timingOf } from '../../../src/findings/timing.ts';
import { DATA_IS_HERE, readRecordings } from '../recordings.ts';
import { random } from '../traffic.ts';

const needed = DATA_IS_HERE || process.env.CI === 'true';

/**
 * Truth: the source address in the low byte of each 29-bit identifier (SAE J1939-81, ISO 11783-5), which the engine is not
 * shown: it is given identifiers drawn by lot.
 */
test.skipIf(!needed)(
  'regular messages of a real boat are placed by sender (needs ../shared/data)',
  async () => {
    const capture = await readRecordings('boat-11/run-a.csv.gz');
    const dice = random(77);
    const alias = new Map<number, number>();
    const real = new Map<number, number>();
    const id = capture.id.map((known) => {
      if (!alias.has(known)) {
        let other = Math.floor(dice() * 2 ** 29);
        while (real.has(other)) other = Math.floor(dice() * 2 ** 29);
        alias.set(known, other);
        real.set(other, known);
      }
      return alias.get(known) as number;
    });
    const hidden = { ...capture, id };
    const senders = await findSenders(hidden);
    const groupOf = new Map(senders.groups.flatMap((g, k) => g.messages.map((i) => [i, k] as const)));
    const regular = groupByMessage(hidden).flatMap(({ frames }, i) => {
      const time = Float64Array.from(frames, (f) => capture.time[f] as number).sort();
      const { timing, periodMs } = timingOf(
        time,
        Uint8Array.from(time, (_, k) => (k === 0 ? 1 : 0)),
      );
      const fits = timing === 'periodic' && periodMs !== null && periodMs > 2 && periodMs < 1500;
      return fits && time.length >= 30 ? [i] : [];
    });
    expect(regular).toHaveLength(20);
    const { f1, precision } = scorePairs(
      regular.map((i) => groupOf.get(i) ?? null),
      regular.map((i) => (real.get(senders.messages[i]?.id as number) as number) & 0xff),
    );
    expect(f1).toBeGreaterThanOrEqual(0.9);
    expect(precision).toBeGreaterThan(0.95);
  },
);
