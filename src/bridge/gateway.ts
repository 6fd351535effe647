/**
 * The gateway as data: which messages it hears, which logic programs it runs in which order at every step, and which
 * messages it sends. The simulator runs this form, the firmware is written from it, and both mean the same thing:
 *
 * Between steps, each frame that matches an `rx` line (bus, identifier, length, data frame) overwrites that line's
 * payload and sets its fresh mark. At a step the stages run in order, then every `tx` message whose `send` output is 1
 * goes out with the bytes its stage computed, then all fresh marks are cleared.
 */
import type { Check, Counter } from '../dictionary/model.ts';
import type { Program } from '../logic/form.ts';
import type { NameEntry } from './names.ts';

export interface GatewayBus {
  name: string;
  number: number;
  bitRateBps: number;
  /** Bit rate of the data part of CAN FD frames; absent on a bus without CAN FD. */
  dataBitRateBps?: number;
}

export interface RxMessage {
  /** Unique, lower-case words with underscores: becomes a C name. */
  name: string;
  bus: number;
  id: number;
  extended: boolean;
  length: number;
}

/** Where a program's input comes from. */
export type Source =
  | { from: 'rxByte'; message: number; byte: number }
  | { from: 'rxFresh'; message: number }
  | { from: 'pin'; pin: number }
  /** The millisecond clock at this step, mod 2³². */
  | { from: 'clock' }
  /** An output of an earlier stage in this same step. */
  | { from: 'stage'; stage: number; output: string }
  /** Always the same value: an actuator output that is held released. */
  | { from: 'fixed'; value: number };

export interface Stage {
  /** What the stage does for the gateway; `order` turns a guard's outputs into signals of a message. */
  role: 'read' | 'route' | 'guard' | 'order' | 'write';
  program: Program;
  /** One per program input, in the order of `program.inputs`. */
  sources: Source[];
}

export interface TxMessage {
  name: string;
  bus: number;
  id: number;
  extended: boolean;
  length: number;
  stage: number;
  /** Name of the truth-valued output that says "send now". */
  send: string;
  /** Names of the outputs that give the payload bytes. */
  bytes: string[];
  /** Counter and check field of the message, as the obligations and the README need them. */
  counter: Counter | null;
  check: Check | null;
}

/** An output of a guard that moves something, and the value at which it moves nothing. */
export interface Actuator {
  stage: number;
  output: string;
  released: number;
}

export interface Gateway {
  name: string;
  stepMs: number;
  buses: GatewayBus[];
  /** Digital inputs; 1 means active, whatever the level on the pin is. */
  pins: { name: string; original: string; active: 'high' | 'low' }[];
  rx: RxMessage[];
  stages: Stage[];
  tx: TxMessage[];
  actuators: Actuator[];
  /** Names of the build and the words that stand for them. */
  names: NameEntry[];
}
