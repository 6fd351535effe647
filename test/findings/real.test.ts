import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { scoreCut, singleFrameFields, type Truth } from '../../bench/findingsScore.ts';
import { formatId } from '../../src/can/frame.ts';
import { groupByMessage, pickFrames } from '../../src/capture/select.ts';
import type { Capture } from '../../src/capture/store.ts';
import { settleChecks } from '../../src/findings/check.ts';
import { type CheckSearch, searchCheck } from '../../src/findings/checkSearch.ts';
import { findCounters } from '../../src/findings/counter.ts';
import { findAll } from '../../src/findings/find.ts';
import type { Findings, FoundMessage } from '../../src/findings/model.ts';
import { findMultiplexor } from '../../src/findings/multiplexor.ts';
import { messageRows, sessionsOf } from '../../src/findings/rows.ts';
import { timingOf } from '../../src/findings/timing.ts';
import { DATA, DATA_IS_HERE, readRecordings, recordingsIn } from './recordings.ts';

const name = DATA_IS_HERE
  ? 'real recordings'
  : 'real recordings: skipped, the folder ../shared/data is not beside the repository';

test.runIf(process.env.CI === 'true')(
  'the folder of real recordings is there in continuous integration',
  () => {
    expect(DATA_IS_HERE, `${DATA} is missing`).toBe(true);
  },
);

describe.runIf(DATA_IS_HERE)(name, () => {
  describe('a car with 30 CRCs and 31 counters that are proved by the data', () => {
    let findings: Findings;
    let verified: { crc: string[]; counters: Map<string, number> };
    const byId = (id: string) =>
      findings.messages.find((m) => formatId(m.id, m.extended) === id) as FoundMessage;

    beforeAll(async () => {
      findings = await findAll(await readRecordings('car-500k/drive-b.csv.gz'));
      verified = readVerified();
    });

    test('every CRC is found, with its polynomial, start value and final constant, over all bytes before the last', () => {
      expect(verified.crc).toHaveLength(30);
      for (const id of verified.crc) {
        const { check, length, frames } = byId(id);
        expect(check, id).toMatchObject({
          algorithm: 'crc',
          start: 8 * (length - 1),
          length: 8,
          poly: 0x1d,
          init: 0xff,
          xorout: 0xff,
          reflected: false,
          covers: Array.from({ length: length - 1 }, (_, b) => b),
          prefix: [],
          suffix: [],
          idBytes: [],
          perCounter: null,
          standard: 'CRC-8/SAE-J1850',
        });
        expect(check?.evidence[0], id).toMatchObject({ frames, agree: frames });
      }
    });

    test('no identifier is said to have a selector', () => {
      expect(findings.messages.filter((m) => m.selector).map((m) => formatId(m.id, m.extended))).toEqual([]);
    });

    test('no other identifier is said to have a check field', () => {
      const found = findings.messages.filter((m) => m.check).map((m) => formatId(m.id, m.extended));
      expect(found.sort()).toEqual([...verified.crc].sort());
    });

    test('identifier 120 fits the same CRC in byte 3, which stays open while only its counter moves', () => {
      expect(byId('120').open.join(' ')).toContain(
        'Byte 3 agrees with a CRC-8 of polynomial 0x1D in 1,250 of 1,250 frames',
      );
    });

    test('every counter is found with its exact bits, the one in bits 6 to 3 too, and no other', () => {
      const found = new Map(
        findings.messages.flatMap((m) =>
          m.counter ? [[formatId(m.id, m.extended), m.counter] as const] : [],
        ),
      );
      expect(verified.counters.size).toBe(31);
      expect(verified.counters.get('0FA')).toBe(35);
      expect([...found.keys()].sort()).toEqual([...verified.counters.keys()].sort());
      for (const [id, start] of verified.counters) {
        expect(found.get(id), id).toMatchObject({ start, length: 4, step: 1, skip: [] });
      }
    });
  });

  test('a light truck without any check field has none found, and no counter', async () => {
    const { checks, counters } = checksAndCounters(
      await readRecordings('light-truck/truck-2-drive-b.csv.gz'),
    );
    expect(checks).toEqual([]);
    expect(counters).toEqual([]);
  });

  test('no check field is found on a boat network', async () => {
    for (const run of recordingsIn('boat-11')) {
      expect(checksAndCounters(await readRecordings(run)).checks, run).toEqual([]);
    }
  });

  test('no check field is found on any log of a tractor', async () => {
    for (const log of recordingsIn('tractor')) {
      expect(checksAndCounters(await readRecordings(log)).checks, log).toEqual([]);
    }
  });

  test('no selector is found where there is none: single-frame groups of boats, an idling truck, a light truck', async () => {
    const truth = readTruth('boat-11/truth.json');
    const captures = [
      ...(await Promise.all(recordingsIn('boat-11').map((run) => readRecordings(run)))).map((capture) =>
        definedFrames(capture, truth),
      ),
      await readRecordings('truck-j1939/engine-idle.csv.gz'),
      await readRecordings('light-truck/truck-2-drive-b.csv.gz'),
    ];
    for (const capture of captures) {
      const sessions = sessionsOf(capture);
      for (const message of groupByMessage(capture)) {
        const rows = messageRows(capture, message, sessions);
        const taken = new Uint8Array(8 * rows.length);
        const [counter] = findCounters(rows, { periodS: null, taken });
        const found = findMultiplexor(rows, { taken, counter: counter ?? null });
        expect(found?.field, formatId(message.id, message.extended)).toBeUndefined();
      }
    }
  });

  test('the frame number of groups in several frames is found as the selector, on a boat', async () => {
    const { messages } = await findAll(await readRecordings('boat-11/run-b.csv.gz'));
    const byId = (id: string) => messages.find((m) => formatId(m.id, m.extended) === id);
    for (const id of ['0DF80523', '19F51305', '19FA0423', '19FD1323'])
      expect(byId(id)?.selector, id).toMatchObject({ start: 0, byteOrder: 'little' });
  });

  // F1 of the published method that is told the byte order, ../shared/data/README.md: 0.683, 0.649, 0.380.
  test.each([
    ['boat-11/truth.json', ['boat-11/run-a.csv.gz'], 19, 0.92],
    ['boat-11/truth.json', ['boat-11/run-b.csv.gz'], 26, 0.8],
    ['truck-j1939/truth-engine-idle.json', ['truck-j1939/engine-idle.csv.gz'], 33, 0.85],
    ['tractor/truth.json', DATA_IS_HERE ? recordingsIn('tractor') : [], 26, 0.7],
  ] as const)(
    'the cut of %s beats the published method that is told the byte order',
    async (path, files, fields, least) => {
      const truth = readTruth(path);
      const score = scoreCut(await findAll(definedFrames(await readRecordings(...files), truth)), truth);
      expect(score.trueFields).toBe(fields);
      expect(score.f1).toBeGreaterThan(least);
      expect(score.rightOrder).toBe(score.multiByte);
    },
  );
});

function checksAndCounters(capture: Capture) {
  const sessions = sessionsOf(capture);
  const searches = groupByMessage(capture).map((message) => {
    const rows = messageRows(capture, message, sessions);
    const { periodMs } = timingOf(rows.time, rows.begins);
    const periodS = periodMs === null ? null : periodMs / 1000;
    return searchCheck(rows, findCounters(rows, { periodS, taken: new Uint8Array(8 * rows.length) }));
  });
  const named = (search: CheckSearch) => formatId(search.rows.id, search.rows.extended);
  const results = settleChecks(searches);
  return {
    checks: searches.filter((_, k) => results[k]?.check).map(named),
    counters: searches.filter(({ counters }) => counters.length > 0).map(named),
  };
}

/** The frames of messages whose layout is published, single-frame groups only. */
function definedFrames(capture: Capture, truth: Truth): Capture {
  const wanted = groupByMessage(capture).filter((m) => singleFrameFields(truth, m.id) !== null);
  const frames = wanted.flatMap((m) => Array.from(m.frames)).sort((a, b) => a - b);
  return pickFrames(capture, Uint32Array.from(frames));
}

function readVerified() {
  const { messages } = JSON.parse(readFileSync(resolve(DATA, 'car-500k/verified.json'), 'utf8')) as {
    messages: { id: string; crc8_j1850?: object; counter4?: { byte: number; nibble?: string } }[];
  };
  const counters = new Map<string, number>();
  for (const { id, counter4 } of messages) {
    // Bits 6 … 3 of its byte where it is not the low nibble.
    if (counter4) counters.set(id, 8 * counter4.byte + (counter4.nibble === 'low' ? 0 : 3));
  }
  return { crc: messages.filter((m) => m.crc8_j1850).map((m) => m.id), counters };
}

function readTruth(path: string) {
  return JSON.parse(readFileSync(resolve(DATA, path), 'utf8'));
}
