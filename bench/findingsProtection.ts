/**
 * Counters and check fields of a long recording: an hour of 100 messages, 8 million frames, a third each with a CRC-8, with
 * a counter alone and with neither, made from a seed. The peer is one bare pass of a table-driven CRC over all payloads,
 * which any program that verifies them must at least make.
 * Run with the rest: node dist/bench/findings.js
 */
import { writeBits } from '../src/can/bits.ts';
import { type CheckField, writeCheck } from '../src/can/check.ts';
import { crcFinish, crcStart, crcUpdate } from '../src/can/crc.ts';
import { settleChecks } from '../src/findings/check.ts';
import { searchCheck } from '../src/findings/checkSearch.ts';
import { findCounters } from '../src/findings/counter.ts';
import { findSharedCounters } from '../src/findings/counterShared.ts';
import type { MessageRows } from '../src/findings/rows.ts';

const MESSAGES = 100;
const FRAMES = 80_000;
const SEED = 7;

const CHECK: CheckField = {
  start: 56,
  length: 8,
  byteOrder: 'little',
  algorithm: 'crc',
  width: 8,
  poly: 0x2f,
  init: 0xff,
  xorout: 0xff,
  reflected: false,
  covers: [0, 1, 2, 3, 4, 5, 6],
  prefix: [],
  suffix: [],
  idBytes: [],
  perCounter: null,
};

export function protectionBench(): void {
  const messages = Array.from({ length: MESSAGES }, (_, m) => rowsOf(m));
  const bareStarted = performance.now();
  let wrong = 0;
  for (const { payload, count } of messages) {
    for (let i = 0, at = 0; i < count; i++, at += 8) {
      const due = crcFinish(CHECK, crcUpdate(CHECK, crcStart(CHECK), payload, at, at + 7));
      if (due !== payload[at + 7]) wrong++;
    }
  }
  const bare = (performance.now() - bareStarted) / 1000;
  const started = performance.now();
  const before = process.cpuUsage();
  findSharedCounters(messages);
  const searches = messages.map((rows) =>
    searchCheck(rows, findCounters(rows, { periodS: 0.045, taken: new Uint8Array(64) })),
  );
  const found = settleChecks(searches);
  const seconds = (performance.now() - started) / 1000;
  const cpu = process.cpuUsage(before).user / 1e6;
  const checks = found.filter(({ check }) => check !== null).length;
  const counters = searches.filter((search) => search.counters.length > 0).length;
  console.log(
    `counters and checks of ${MESSAGES} messages, ${MESSAGES * FRAMES} frames, seed ${SEED}: ${seconds.toFixed(2)} s (${cpu.toFixed(2)} s of processor), ${(seconds / bare).toFixed(1)} × one bare pass of the CRC (${bare.toFixed(2)} s, ${wrong} frames without it); checks ${checks}, counters ${counters}`,
  );
}

function rowsOf(m: number): MessageRows {
  const payload = new Uint8Array(8 * FRAMES);
  const time = new Float64Array(FRAMES);
  let state = (SEED * 2_654_435_761 + m) >>> 0;
  const dice = () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
  let speed = 5000;
  for (let i = 0, at = 0; i < FRAMES; i++, at += 8) {
    speed = Math.max(0, Math.min(65_535, speed + Math.round((dice() - 0.5) * 60)));
    writeBits(payload, at, { start: 0, length: 16, byteOrder: 'little' }, speed);
    payload[at + 2] = 0x80 + Math.floor(dice() * 16);
    payload[at + 4] = (i >> 9) & 1 ? 0x20 : 0;
    if (m % 3 < 2) payload[at + 6] = i & 15;
    if (m % 3 === 0) writeCheck(CHECK, m, payload, at, 8);
    time[i] = 0.045 * i;
  }
  const begins = new Uint8Array(FRAMES);
  begins[0] = 1;
  const { length } = time;
  return { bus: 0, id: m, extended: false, length: 8, count: length, otherLength: 0, payload, time, begins };
}
