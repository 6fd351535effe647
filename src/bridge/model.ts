/** The message plan as engines read it. */
import type { z } from 'zod';
import type { Camel } from '../dictionary/case.ts';
import type {
  bridgeSchema,
  messageRefSchema,
  routeSchema,
  routeSignalSchema,
  signalRefSchema,
} from './schema.ts';

export type MessageRef = Camel<z.output<typeof messageRefSchema>>;
export type SignalRef = Camel<z.output<typeof signalRefSchema>>;
export type RouteSignal = Camel<z.output<typeof routeSignalSchema>>;
export type Route = Camel<z.output<typeof routeSchema>>;
export type BridgePlan = Camel<z.output<typeof bridgeSchema>>;
