/** Shape of `bridge.yaml`: the gateway's message plan, one route a line of it. */
import { z } from 'zod';

/** Names a message of a bus, as in buses.yaml and dictionary/<bus>.yaml. */
export const messageRefSchema = z.strictObject({ bus: z.string().min(1), message: z.string().min(1) });

/** Names a signal of a message of a bus. */
export const signalRefSchema = z.strictObject({
  bus: z.string().min(1),
  message: z.string().min(1),
  signal: z.string().min(1),
});

export const routeSignalSchema = z.strictObject({
  to: z.string().min(1).describe('signal of the message that is written'),
  from: signalRefSchema.optional().describe('signal that is read; without it the value is constant'),
  value: z.number().optional().describe('physical value when there is no `from`'),
  gain: z.number().default(1).describe('written = read × gain + bias, in physical units'),
  bias: z.number().default(0),
  on_loss: z
    .union([z.literal('hold'), z.number()])
    .default('hold')
    .describe('when the source is too old: hold the last value, or this physical value'),
});

export const routeSchema = z.strictObject({
  name: z.string().min(1),
  to: messageRefSchema,
  period_ms: z.number().positive().describe('the message is sent this often; a multiple of step_ms'),
  source_age_ms: z.number().positive().describe('a source older than this counts as lost'),
  on_loss: z
    .enum(['send', 'stop'])
    .default('stop')
    .describe('when any source is lost: go on with on_loss values, or stop sending'),
  signals: z.array(routeSignalSchema).min(1),
  note: z.string().optional(),
});

export const bridgeSchema = z.strictObject({
  form: z.literal('bridge/1'),
  step_ms: z.int().min(1).max(100).default(10).describe('the gateway computes once per step'),
  lost_frames: z
    .int()
    .min(0)
    .max(6)
    .default(1)
    .describe('frames of a message that may be missing in a row before its counter counts as jumped'),
  routes: z.array(routeSchema).default([]),
});
