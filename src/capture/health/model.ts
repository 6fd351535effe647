/** What a health report holds. Times are seconds since the capture's origin, frames are indices into the capture. */
import type { BitField } from '../../can/bits.ts';

/** Where a message counts, as findings or a dictionary tell it. */
export interface CounterPlace extends BitField {
  bus: number;
  /** As `idKey` gives it. */
  idKey: number;
  step: number;
  /** Values that it never takes. */
  skip: readonly number[];
}

export interface Health {
  frames: number;
  seconds: number;
  buses: BusHealth[];
  messages: MessageHealth[];
  clock: ClockHealth;
}

export interface BusHealth {
  bus: number;
  frames: number;
  remoteFrames: number;
  /** Error messages of the controller, by the class bits of the Linux kernel's linux/can/error.h. */
  errorFrames: number;
  errorClasses: { name: string; count: number }[];
  /** Length of all frames on the wire, exact, stuff bits and intermission included. */
  bits: number;
  load: BusLoad;
  gaps: BusGap[];
}

/** Load over time: window k is [fromS + k × windowS, fromS + (k + 1) × windowS). */
export interface BusLoad {
  fromS: number;
  windowS: number;
  /** Bits in each window at the nominal bit rate, Float64. Error messages of the controller have no length and count 0. */
  nominalBits: Float64Array;
  /** Bits at the data bit rate of CAN FD; empty where no frame switched. */
  dataBits: Float64Array;
  /** Share of each window in which the bus was busy; null where the bit rate is not known. */
  share: Float64Array | null;
  mean: number | null;
  greatest: number | null;
}

/** A time in which a whole bus was silent. */
export interface BusGap {
  fromS: number;
  toS: number;
  /** First frame after it. */
  frame: number;
  /**
   * What the counters say: `clock` – they went on by one step, as if no time had passed (the clock jumped, or every unit
   * paused); `lost` – they went on as the time asks, so the bus was alive and the recorder missed it; `open` otherwise.
   */
  told: 'clock' | 'lost' | 'open';
}

export interface MessageHealth {
  bus: number;
  id: number;
  extended: boolean;
  frames: number;
  /** Median gap; null where the message is not periodic (fewer than four fifths of the gaps near 1, 2 or 3 of it). */
  periodMs: number | null;
  /** 1.4826 × median absolute deviation of the gaps; null where there are fewer than 5. */
  jitterMs: number | null;
  leastGapMs: number | null;
  greatestGapMs: number | null;
  /** Frames missing outside the gaps of the whole bus; null where nothing tells. */
  lost: { frames: number; by: 'counter' | 'gaps' } | null;
  /** Frames whose counter stood still; null without a counter. */
  repeated: number | null;
  senders: TwoSenders | null;
}

/** Signs that two units send under one identifier. */
export interface TwoSenders {
  /** `counters` – two counters run through each other; `phases` – two rhythms shift against each other, or one comes and goes. */
  sign: 'counters' | 'phases';
  fromS: number;
  toS: number;
  /** Share of the message's frames in which it shows. */
  share: number;
}

export interface ClockHealth {
  /** Frames whose stamp is before that of the frame before them on their bus; the first 100 of them. */
  back: { frame: number; bus: number; byS: number }[];
  backCount: number;
  /** Frames that are out of order between buses only. */
  outOfOrder: number;
}
