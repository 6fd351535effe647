import { describe, expect, test } from 'vitest';
import { formatId } from '../../src/can/frame.ts';
import { groupByMessage } from '../../src/capture/select.ts';
import { settleChecks } from '../../src/findings/check.ts';
import { searchCheck } from '../../src/findings/checkSearch.ts';
import { findCounters } from '../../src/findings/counter.ts';
import { findSharedCounters } from '../../src/findings/counterShared.ts';
import { distinctRows, type MessageRows, messageRows, sessionsOf } from '../../src/findings/rows.ts';
import { timingOf } from '../../src/findings/timing.ts';
import { DATA_IS_HERE, readRecordings, recordingsIn } from './recordings.ts';

const name = DATA_IS_HERE
  ? 'real recordings'
  : 'real recordings: skipped, the folder ../shared/data is not beside the repository';

test.runIf(process.env.CI === 'true')('the real recordings are there in continuous integration', () => {
  expect(DATA_IS_HERE).toBe(true);
});

async function rowsIn(...files: string[]): Promise<MessageRows[]> {
  const capture = await readRecordings(...files);
  const session = sessionsOf(capture);
  return groupByMessage(capture).map((message) => messageRows(capture, message, session));
}

/** The frames of a message until one more different payload would be sent. */
function untilPayloads(rows: MessageRows, limit: number): MessageRows {
  const count = distinctRows(rows, limit + 1)[limit] ?? rows.count;
  const payload = rows.payload.subarray(0, count * rows.length);
  return { ...rows, count, payload, time: rows.time.slice(0, count), begins: rows.begins.slice(0, count) };
}

describe.runIf(DATA_IS_HERE)(name, () => {
  test('all 30 CRCs of a car are read off the first 20 different payloads of each message', async () => {
    const messages = await rowsIn('car-500k/drive-b.csv.gz');
    const searches = messages.map((whole) => {
      const rows = untilPayloads(whole, 20);
      const { periodMs } = timingOf(whole.time, whole.begins);
      const periodS = periodMs === null ? null : periodMs / 1000;
      return searchCheck(rows, findCounters(rows, { periodS, taken: new Uint8Array(8 * rows.length) }));
    });
    const found = settleChecks(searches).flatMap(({ check }, k) => {
      const { id, extended, length } = (searches[k] as (typeof searches)[number]).rows;
      return check ? [{ id: formatId(id, extended), length, check }] : [];
    });
    // ../shared/data/car-500k/verified.json: 30 messages, CRC of all bytes before the last
    expect(found).toHaveLength(30);
    for (const { id, length, check } of found) {
      expect(check, id).toMatchObject({ start: 8 * (length - 1), standard: 'CRC-8/SAE-J1850' });
    }
  });

  test.each([
    ['a car', ['car-500k/drive-b.csv.gz']],
    ['a light truck', ['light-truck/truck-2-drive-b.csv.gz']],
    ['a boat', ['boat-11/run-a.csv.gz']],
    ['another run of it', ['boat-11/run-b.csv.gz']],
    ['a tractor', DATA_IS_HERE ? recordingsIn('tractor') : []],
  ])('no counter is said to run over several messages of %s', async (_, files) => {
    expect([...findSharedCounters(await rowsIn(...files)).keys()]).toEqual([]);
  });
});
