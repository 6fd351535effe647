/** Shapes of the files of a build that belong to no engine: `build.yaml`, `buses.yaml`, `units.yaml`, `cues/*.yaml`. */
import { z } from 'zod';
import { hostSchema } from '../car/schema.ts';

export const STAGES = ['bench', 'stand', 'closed course', 'road'] as const;

export const buildFileSchema = z.strictObject({
  form: z.literal('build/1'),
  title: z.string().min(1),
  note: z.string().optional(),
  stage: z.enum(STAGES).default('bench'),
  host: hostSchema,
});

export const busesFileSchema = z.strictObject({
  form: z.literal('buses/1'),
  buses: z
    .array(
      z.strictObject({
        name: z
          .string()
          .regex(/^[a-z][a-z0-9-]*$/, 'lower-case letters, digits and - only, starting with a letter'),
        number: z.int().min(0).max(255).describe('bus number in the captures'),
        bit_rate_bps: z.int().min(5_000).max(1_000_000),
        data_bit_rate_bps: z.int().min(5_000).max(8_000_000).optional(),
        note: z.string().optional(),
      }),
    )
    .min(1),
});

export const unitsFileSchema = z.strictObject({
  form: z.literal('units/1'),
  units: z
    .array(
      z.strictObject({
        name: z.string().min(1),
        role: z.enum(['host', 'donor', 'gateway', 'controller']),
        part: z.string().min(1).describe('what it is: "column steering unit", "front radar"'),
        buses: z.array(z.string()).min(1),
        note: z.string().optional(),
      }),
    )
    .min(1),
});

export const cueSheetSchema = z.strictObject({
  form: z.literal('cues/1'),
  capture: z.string().min(1).describe('file name in captures/'),
  cues: z.array(
    z.strictObject({
      name: z.string().min(1),
      start_s: z.number(),
      end_s: z.number(),
      level: z.number().optional(),
      note: z.string().optional(),
    }),
  ),
});
