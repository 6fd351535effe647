/** One pass over a capture: load, error messages, silences and steps of the clock, by bus. */

import { FLAG } from '../../can/frame.ts';
import { classicalFrameBits, fdFrameBits } from '../../can/length.ts';
import { timeSpan } from '../span.ts';
import type { Capture } from '../store.ts';
import type { BusGap, BusHealth, BusLoad, ClockHealth } from './model.ts';

export interface BusOptions {
  /** Bits per second by bus. */
  bitRates: ReadonlyMap<number, number>;
  /** Bits per second of the data phase by bus; where absent, the nominal rate. */
  dataBitRates: ReadonlyMap<number, number>;
  windowS: number;
  onFrame: (frame: number) => void;
}

export interface BusPass {
  buses: BusHealth[];
  clock: ClockHealth;
  fromS: number;
  toS: number;
}

export function busesOf(capture: Capture, options: BusOptions): BusPass {
  const { count, time, bus, flags, id, length, offset, payload } = capture;
  const { first: fromS, last: toS } = timeSpan(time);
  // A clock that jumps by years must not ask for millions of windows.
  const windowS = Math.max(options.windowS, (toS - fromS) / MOST_WINDOWS);
  const windows = count === 0 ? 0 : Math.floor((toS - fromS) / windowS) + 1;
  const tallies: (Tally | undefined)[] = [];
  const clock: ClockHealth = { back: [], backCount: 0, outOfOrder: 0 };
  let before = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < count; i++) {
    if ((i & 0xffff) === 0) options.onFrame(i);
    const number = bus[i] as number;
    const tally = (tallies[number] ??= new Tally(windows));
    const t = time[i] as number;
    if (t < tally.lastS) {
      clock.backCount++;
      if (clock.back.length < 100) clock.back.push({ frame: i, bus: number, byS: tally.lastS - t });
    } else {
      if (t < before) clock.outOfOrder++;
      if (t - tally.lastS > LEAST_GAP_S && tally.frames > 0) {
        tally.gaps.push({ fromS: tally.lastS, toS: t, frame: i, told: 'open' });
      }
    }
    tally.lastS = t;
    before = t;
    tally.frames++;
    const flag = flags[i] as number;
    if (flag & FLAG.error) {
      tally.error(id[i] as number);
      continue;
    }
    if (flag & FLAG.remote) tally.remote++;
    const at = Math.min(windows - 1, Math.max(0, Math.floor((t - fromS) / windowS)));
    if (flag & FLAG.fd) {
      const bits = fdFrameBits(id[i] as number, flag, payload, offset[i] as number, length[i] as number);
      tally.nominal[at] = (tally.nominal[at] as number) + bits.nominal;
      if (bits.data > 0) tally.addData(at, bits.data);
    } else {
      const bits = classicalFrameBits(
        id[i] as number,
        flag,
        payload,
        offset[i] as number,
        length[i] as number,
      );
      tally.nominal[at] = (tally.nominal[at] as number) + bits;
    }
  }
  const buses = tallies.flatMap((tally, number) =>
    tally ? [busHealth(number, tally, { fromS, toS, windowS }, options)] : [],
  );
  return { buses, clock, fromS, toS };
}

/** Windows at most: a day in seconds is 86,400. */
const MOST_WINDOWS = 100_000;
/** Shorter silences of a bus are ordinary. */
const LEAST_GAP_S = 0.1;

class Tally {
  frames = 0;
  remote = 0;
  errors = 0;
  lastS = Number.NEGATIVE_INFINITY;
  readonly classes = new Uint32Array(ERROR_CLASSES.length);
  readonly gaps: BusGap[] = [];
  readonly nominal: Float64Array;
  data = new Float64Array(0);

  constructor(windows: number) {
    this.nominal = new Float64Array(windows);
  }

  error(classBits: number): void {
    this.errors++;
    for (let k = 0; k < ERROR_CLASSES.length; k++) {
      if ((classBits >>> k) & 1) this.classes[k] = (this.classes[k] as number) + 1;
    }
  }

  addData(at: number, bits: number): void {
    if (this.data.length === 0) this.data = new Float64Array(this.nominal.length);
    this.data[at] = (this.data[at] as number) + bits;
  }
}

/** By bit of the identifier of an error message (linux/can/error.h; words ours). */
const ERROR_CLASSES = [
  'sending timed out',
  'arbitration lost',
  'controller',
  'protocol violation',
  'transceiver',
  'no acknowledgement',
  'bus off',
  'bus error',
  'controller restarted',
];

function busHealth(
  bus: number,
  tally: Tally,
  at: { fromS: number; toS: number; windowS: number },
  options: BusOptions,
): BusHealth {
  const sum = (bits: Float64Array) => bits.reduce((a, b) => a + b, 0);
  return {
    bus,
    frames: tally.frames,
    remoteFrames: tally.remote,
    errorFrames: tally.errors,
    errorClasses: ERROR_CLASSES.map((name, k) => ({ name, count: tally.classes[k] as number })).filter(
      ({ count }) => count > 0,
    ),
    bits: sum(tally.nominal) + sum(tally.data),
    load: loadOf(tally, at, options.bitRates.get(bus), options.dataBitRates.get(bus)),
    gaps: realGaps(tally, at.toS - at.fromS),
  };
}

function loadOf(
  tally: Tally,
  { fromS, toS, windowS }: { fromS: number; toS: number; windowS: number },
  bitRate: number | undefined,
  dataBitRate: number | undefined,
): BusLoad {
  const { nominal: nominalBits, data: dataBits } = tally;
  const plain = { fromS, windowS, nominalBits, dataBits };
  if (bitRate === undefined) return { ...plain, share: null, mean: null, greatest: null };
  const fast = dataBitRate ?? bitRate;
  const busyS = nominalBits.map((bits, k) => bits / bitRate + (dataBits[k] ?? 0) / fast);
  const total = busyS.reduce((a, b) => a + b, 0);
  const share = busyS.map((s) => s / windowS);
  // The last window is cut by the end of the recording: too short to say how full it was.
  const whole = share.length > 1 ? share.subarray(0, -1) : share;
  return {
    ...plain,
    share,
    mean: toS > fromS ? total / (toS - fromS) : null,
    greatest: toS > fromS ? whole.reduce((a, b) => Math.max(a, b), 0) : null,
  };
}

/** Silences that stand out: twenty times the usual distance of frames; on a slow bus, ten times its usual silence. */
function realGaps(tally: Tally, seconds: number): BusGap[] {
  const lengths = Float64Array.from(tally.gaps, (g) => g.toS - g.fromS).sort();
  if (lengths.length === 0) return [];
  const silent = lengths.reduce((a, b) => a + b, 0);
  const slow = lengths.length > 0.05 * tally.frames;
  const usual = Math.max(0, seconds - silent) / tally.frames;
  const least = slow ? 10 * (lengths[lengths.length >> 1] as number) : 20 * usual;
  return tally.gaps.filter((g) => g.toS - g.fromS > least);
}
