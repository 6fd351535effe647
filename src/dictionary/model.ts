/** Messages and signals as the rest of the house reads them: the content of `dictionary/<bus>.yaml`, keys in camelCase. */
import type { z } from 'zod';
import type { Camel } from './case.ts';
import type {
  checkSchema,
  counterSchema,
  dictionarySchema,
  evidenceSchema,
  messageSchema,
  signalSchema,
} from './schema.ts';

export type Signal = Camel<z.output<typeof signalSchema>>;
export type Counter = Camel<z.output<typeof counterSchema>>;
export type Check = Camel<z.output<typeof checkSchema>>;
export type Message = Camel<z.output<typeof messageSchema>>;
export type Dictionary = Camel<z.output<typeof dictionarySchema>>;
export type StoredEvidence = Camel<z.output<typeof evidenceSchema>>;
