/**
 * Shape of `dictionary/<bus>.yaml`: the accepted messages and signals of one bus. One source gives the types, the
 * validation and the JSON Schema for editors. Keys are written in snake_case in files and read as camelCase in code.
 */
import { z } from 'zod';

const byteOrder = z.enum(['little', 'big']);
const bit = z.int().min(0).max(511);

export const evidenceSchema = z.strictObject({
  /** Capture file name the evidence comes from, empty for a sign-off by hand. */
  capture: z.string().optional(),
  text: z.string(),
  probability: z.number().min(0).max(1).optional(),
  /** Cue that the signal followed in that capture; recordings with the cue are asked whether it still does. */
  cue: z.string().min(1).optional(),
});

export const signalSchema = z.strictObject({
  name: z.string().min(1),
  start: bit.describe(
    'AUTOSAR bit number: 8 × byte + bit; lowest bit if little-endian, highest if big-endian',
  ),
  length: z.int().min(1).max(64),
  byte_order: byteOrder,
  signed: z.union([z.boolean(), z.literal('magnitude')]).default(false),
  scale: z.number().default(1).describe('physical = raw × scale + offset'),
  offset: z.number().default(0),
  unit: z.string().default(''),
  min: z.number().optional().describe('physical value below which the signal is not believed'),
  max: z.number().optional(),
  values: z
    .record(z.string().regex(/^-?\d+$/), z.string())
    .optional()
    .describe('names by raw value'),
  selector_value: z.int().optional().describe('present only when the selector has this raw value'),
  state: z.enum(['proposed', 'accepted', 'rejected']).default('accepted'),
  note: z.string().optional(),
  evidence: z.array(evidenceSchema).optional(),
});

export const counterSchema = z.strictObject({
  start: bit,
  length: z.int().min(2).max(16),
  byte_order: byteOrder.default('little'),
  step: z.int().default(1),
  skip: z.array(z.int()).default([]),
  evidence: z.array(evidenceSchema).optional(),
});

export const checkSchema = z.strictObject({
  start: bit,
  length: z.int().min(1).max(32),
  byte_order: byteOrder.default('little'),
  algorithm: z.enum(['crc', 'xor', 'sum', 'sumComplement', 'nibbleSum']),
  width: z.int().min(1).max(32).default(8),
  poly: z.int().min(0).max(0xffff_ffff).default(0),
  init: z.int().min(0).max(0xffff_ffff).default(0),
  xorout: z.int().min(0).max(0xffff_ffff).default(0),
  reflected: z.boolean().default(false),
  covers: z.array(z.int().min(0).max(63)),
  prefix: z.array(z.int().min(0).max(255)).default([]),
  suffix: z.array(z.int().min(0).max(255)).default([]),
  id_bytes: z.array(z.int().min(0).max(3)).default([]),
  per_counter: z.array(z.int().min(0)).nullable().default(null),
  evidence: z.array(evidenceSchema).optional(),
});

export const messageSchema = z.strictObject({
  name: z.string().min(1),
  id: z.int().min(0).max(0x1fff_ffff),
  extended: z.boolean().default(false),
  length: z.int().min(0).max(64),
  period_ms: z.number().positive().nullable().default(null).describe('null: not periodic'),
  sender: z.string().optional().describe('name of the unit that sends it'),
  selector: z
    .strictObject({ start: bit, length: z.int().min(1).max(16), byte_order: byteOrder.default('little') })
    .optional(),
  counter: counterSchema.optional(),
  check: checkSchema.optional(),
  signals: z.array(signalSchema).default([]),
  note: z.string().optional(),
});

export const dictionarySchema = z.strictObject({
  form: z.literal('dictionary/1'),
  bus: z.string().min(1).describe('name of the bus in buses.yaml'),
  messages: z.array(messageSchema).default([]),
});
