/** What is told of a recording while it runs: frames, rates, load, identifiers and errors, bus by bus. */
import { FLAG, formatId, idKey } from '../../can/frame.ts';
import { classicalFrameBits, frameBits } from '../../can/length.ts';
import type { Capture } from '../store.ts';

export interface LiveSummary {
  /** All frames so far, error frames among them. */
  frames: number;
  /** From the earliest to the latest stamp so far; null where the clock of the stream went back. */
  seconds: number | null;
  buses: LiveBus[];
}

export interface LiveBus {
  bus: number;
  /** Data and remote frames. */
  frames: number;
  errorFrames: number;
  /** Error frames by class, in words, commonest first. */
  errors: { words: string; count: number }[];
  /** In the last whole second of the recording's own clock; null before one has passed. */
  framesPerSecond: number | null;
  /** Bits on the wire in that second. Of CAN FD frames the longest that each can be is counted. */
  bitsPerSecond: number | null;
  hasFd: boolean;
  ids: LiveId[];
}

export interface LiveId {
  /** 3 or 8 hex digits. */
  id: string;
  frames: number;
  framesPerSecond: number | null;
}

/**
 * Classes in the identifier of an error frame: `include/uapi/linux/can/error.h` of the Linux kernel (CAN_ERR_…), bits 0–8.
 */
const ERROR_WORDS = [
  'transmission timed out',
  'lost arbitration',
  'controller trouble',
  'protocol violation',
  'transceiver trouble',
  'no acknowledgement',
  'bus off',
  'bus error',
  'controller restarted',
];

/** A step back of the clock by more than this is told; less is the order in which a recorder hands over its buses. */
const CLOCK_BACK_S = 1;
/** A step ahead by more than this is told too: a sleeping laptop, or a clock that was set. */
const CLOCK_AHEAD_S = 3600;

export interface ClockStep {
  /** Frame of the recording, from 0. */
  frame: number;
  /** Seconds by which the stamp differs from the latest before; negative: back. */
  stepS: number;
}

class Lane {
  frames = 0;
  errorFrames = 0;
  readonly errorClasses = new Uint32Array(ERROR_WORDS.length);
  second = 0;
  bits = 0;
  lastSecond = 0;
  lastBits = 0;
  hasFd = false;
  readonly ids = new Map<number, { frames: number; second: number; last: number }>();
}

export class RunningSummary {
  #frames = 0;
  #first = Number.NaN;
  #last = Number.NaN;
  #clock: 'even' | 'stepped' = 'even';
  /** Start of the second that is being counted; seconds are counted from the first stamp, or the first after a step. */
  #secondFrom = Number.NaN;
  #whole = false;
  readonly #lanes = new Map<number, Lane>();

  /** Time of the latest frame, seconds from the origin of the recording; NaN before the first. */
  get lastTime(): number {
    return this.#last;
  }

  /** Counts the frames of `piece`, which follow those before; returns where the clock stepped. */
  take(piece: Capture): ClockStep[] {
    const steps: ClockStep[] = [];
    const { count, time, id, bus, flags, length, offset, payload } = piece;
    for (let i = 0; i < count; i++) {
      const t = time[i] as number;
      this.#turn(t, steps);
      this.#frames++;
      const lane = this.#lane(bus[i] as number);
      const flag = flags[i] as number;
      const ident = id[i] as number;
      if (flag & FLAG.error) {
        lane.errorFrames++;
        for (let k = 0; k < ERROR_WORDS.length; k++)
          if ((ident >>> k) & 1) lane.errorClasses[k] = (lane.errorClasses[k] as number) + 1;
        continue;
      }
      lane.frames++;
      lane.second++;
      const bytes = length[i] as number;
      if (flag & FLAG.fd) {
        lane.hasFd = true;
        lane.bits += frameBits(flag, bytes).worst;
      } else lane.bits += classicalFrameBits(ident, flag, payload, offset[i] as number, bytes);
      const key = idKey(ident, flag);
      const seen = lane.ids.get(key);
      if (seen) {
        seen.frames++;
        seen.second++;
      } else lane.ids.set(key, { frames: 1, second: 1, last: 0 });
    }
    return steps;
  }

  now(): LiveSummary {
    return {
      frames: this.#frames,
      seconds: this.#clock === 'stepped' ? null : this.#frames === 0 ? 0 : this.#last - this.#first,
      buses: [...this.#lanes].sort(([a], [b]) => a - b).map(([bus, lane]) => this.#busOf(bus, lane)),
    };
  }

  /** Moves on to the second of the stamp `t`, and notes a step of the clock. */
  #turn(t: number, steps: ClockStep[]): void {
    const step = t - this.#last;
    if (Number.isNaN(this.#last)) {
      this.#first = t;
      this.#last = t;
      this.#secondFrom = t;
    } else if (step < -CLOCK_BACK_S || step > CLOCK_AHEAD_S) {
      steps.push({ frame: this.#frames, stepS: step });
      this.#clock = 'stepped';
      this.#last = t;
      this.#secondFrom = t;
      this.#empty('drop');
      this.#whole = false;
    } else if (step > 0) this.#last = t;
    else if (t < this.#first) this.#first = t;
    const ahead = Math.floor(t - this.#secondFrom);
    if (ahead < 1) return;
    // After a silence the last whole second is empty.
    this.#empty(ahead === 1 ? 'keep' : 'drop');
    this.#secondFrom += ahead;
    this.#whole = true;
  }

  #empty(counted: 'keep' | 'drop'): void {
    const share = counted === 'keep' ? 1 : 0;
    for (const lane of this.#lanes.values()) {
      lane.lastSecond = share * lane.second;
      lane.lastBits = share * lane.bits;
      lane.second = 0;
      lane.bits = 0;
      for (const seen of lane.ids.values()) {
        seen.last = share * seen.second;
        seen.second = 0;
      }
    }
  }

  #lane(bus: number): Lane {
    let lane = this.#lanes.get(bus);
    if (lane === undefined) {
      lane = new Lane();
      this.#lanes.set(bus, lane);
    }
    return lane;
  }

  #busOf(bus: number, lane: Lane): LiveBus {
    const whole = this.#whole;
    const ids = [...lane.ids].map(([key, { frames, last }]) => ({
      id: formatId(key & 0x1fff_ffff, key >= 0x8000_0000),
      frames,
      framesPerSecond: whole ? last : null,
    }));
    return {
      bus,
      frames: lane.frames,
      errorFrames: lane.errorFrames,
      errors: ERROR_WORDS.map((words, k) => ({ words, count: lane.errorClasses[k] as number }))
        .filter(({ count }) => count > 0)
        .sort((a, b) => b.count - a.count),
      framesPerSecond: whole ? lane.lastSecond : null,
      bitsPerSecond: whole ? lane.lastBits : null,
      hasFd: lane.hasFd,
      ids: ids.sort((a, b) => b.frames - a.frames || (a.id < b.id ? -1 : 1)),
    };
  }
}
