import { expect, test } from 'vitest';
import { recordAndKill } from '../build/listen/killed.ts';

const MOMENTS = 200;
const AT_ONCE = 8;
const seed = Number(process.env.SEED ?? Math.floor(Math.random() * 1e6));
console.log(`${MOMENTS} moments of killing with seed ${seed}`);

test('kill -9 at 200 random moments leaves readable files that miss at most the last second, and valid cue sheets', async () => {
  let oldest = 0;
  let kept = 0;
  let sent = 0;
  for (let k = 0; k < MOMENTS; k += AT_ONCE) {
    const runs = await Promise.all(
      Array.from({ length: Math.min(AT_ONCE, MOMENTS - k) }, (_, i) => recordAndKill(seed + k + i, 4000)),
    );
    for (const run of runs) {
      expect(run, JSON.stringify(run)).toMatchObject({ missedOlder: 0, wrong: [] });
      oldest = Math.max(oldest, run.oldestMissedMs);
      kept += run.kept;
      sent += run.sent;
    }
  }
  console.log(
    `${MOMENTS} kills: ${sent} frames sent, ${kept} kept; the oldest frame that was missing had been sent ${oldest.toFixed(0)} ms before the kill`,
  );
  expect(kept).toBeGreaterThan(MOMENTS * 20);
}, 600_000);
