/**
 * What is really in the demo's traffic. For tests and measurements only: nothing under `src/` may read it, and it is
 * never written where a finding could see it.
 */
import type { Message } from '../../src/dictionary/model.ts';
import { TRAFFIC } from './messages/index.ts';
import { type Event, SCENARIOS } from './scenario.ts';
import { BUS_NUMBER, type BusName, UNITS } from './units.ts';

export interface TrueMessage {
  bus: BusName;
  busNumber: number;
  /** With `sender`, counter, check, selector and all signals. */
  message: Message;
}

export interface Truth {
  messages: TrueMessage[];
  /** Units by name, with the skew of their clocks in parts per million. */
  units: { name: string; skewPpm: number }[];
  /** Events of each recording by its file name. */
  events: Record<string, readonly Event[]>;
}

export function truth(): Truth {
  return {
    messages: TRAFFIC.map(({ bus, message }) => ({ bus, busNumber: BUS_NUMBER[bus], message })),
    units: Object.values(UNITS).map(({ name, skewPpm }) => ({ name, skewPpm })),
    events: Object.fromEntries(SCENARIOS.map(({ capture, events }) => [capture, events])),
  };
}
