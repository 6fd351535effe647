/** Shapes of the files of a build that belong to no engine: `build.yaml`, `buses.yaml`, `units.yaml`, `cues/*.yaml`, `reference/*.yaml`. */
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

export const referenceFileSchema = z.strictObject({
  form: z.literal('reference/1'),
  name: z.string().min(1).describe('what was measured: "satellite speed", "brake gauge"'),
  unit: z
    .string()
    .default('')
    .describe('unit of the values; a file in another unit of the same quantity is converted'),
  capture: z.string().min(1).describe('file name in captures/'),
  file: z.string().min(1).optional().describe('file in reference/: CSV or GPX; or points instead'),
  column: z
    .string()
    .optional()
    .describe('header of its column, or of a GPX track speed, heading or altitude'),
  time_column: z.string().optional().describe('header of the times where the guess is wrong'),
  time_unit: z
    .enum(['s', 'ms', 'us', 'ns'])
    .optional()
    .describe('unit of plain times where the guess is wrong'),
  points: z
    .array(z.array(z.number()).length(2))
    .optional()
    .describe('typed readings: [time_s, value], time in s from the first frame of the capture'),
  clock: z
    .strictObject({
      offset_s: z
        .number()
        .describe('time in the capture = time here + offset_s + drift_ppm × 10⁻⁶ × time here'),
      drift_ppm: z.number().min(-100_000).max(100_000).default(0),
      offset_half_s: z
        .number()
        .min(0)
        .optional()
        .describe('half of its 95 % interval, in the middle of the overlap'),
      drift_half_ppm: z.number().min(0).optional(),
      r: z.number().min(-1).max(1).optional().describe('correlation at this offset'),
      residual: z.number().min(0).optional().describe('root mean square that is left, in the unit'),
      signal: z.string().optional().describe('the signal of the capture it was found with'),
      accepted: z.string().optional().describe('when a person accepted it, ISO 8601'),
      note: z.string().optional(),
    })
    .optional()
    .describe('how its clock runs against that of the capture; `bywright align` finds it'),
  note: z.string().optional(),
});
