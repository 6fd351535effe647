/** Shapes of the guard's channels in `guard.yaml`: one per thing that the controller may move. */
import { z } from 'zod';
import { messageRefSchema, signalRefSchema } from '../../bridge/schema.ts';

const speed = { speed_mps: z.number().min(0).max(100) };
const points = <T extends z.ZodRawShape>(value: T) =>
  z
    .array(z.strictObject({ ...speed, ...value }))
    .min(2)
    .max(16);

/** What every channel has: where its command comes from and which message carries its order. */
const common = {
  command: signalRefSchema.describe('what the controller asks for'),
  output: messageRefSchema.describe('message that carries the order'),
  output_active: z.string().min(1).describe('its flag: 1 = follow the order'),
  output_period_ms: z.number().positive(),
};
const ordered = { output_order: z.string().min(1).describe('its signal for the order') };

export const steeringSchema = z.discriminatedUnion('by', [
  z.strictObject({
    by: z.literal('angle').describe('angles are steering-wheel angles'),
    ...common,
    ...ordered,
    angle: signalRefSchema.describe('measured steering wheel angle'),
    path: z
      .strictObject({
        angle: signalRefSchema.describe(
          'steering wheel angle that speed and the road ahead ask for, worked out by something else than the controller',
        ),
        within: points({ angle_deg: z.number().min(0).max(500) }).describe(
          'how far the order may leave it to either side, over speed',
        ),
      })
      .optional()
      .describe('bounds the order around the path of the road, beside the level'),
    arm_angle_deg: z
      .number()
      .positive()
      .describe('arming only while command and measured angle differ by less than this'),
    level: points({ angle_deg: z.number().min(0).max(2000) }).describe(
      'largest angle either side, over speed',
    ),
    slew: points({ rate_deg_per_s: z.number().min(0).max(5000) }).describe(
      'fastest change of the order, over speed',
    ),
  }),
  z.strictObject({
    by: z.literal('torque').describe('torque at the steering wheel'),
    ...common,
    ...ordered,
    level: points({ torque_nm: z.number().min(0).max(100) }).describe(
      'largest torque either side, over speed',
    ),
    slew: points({ rate_nm_per_s: z.number().min(0).max(1000) }).describe(
      'fastest change of the order, over speed',
    ),
    angle_per_torque_deg_per_nm: points({ deg_per_nm: z.number().positive().max(1000) })
      .optional()
      .describe(
        'steering wheel angle that one N·m holds at most, measured over speed; without it there is no budget',
      ),
  }),
]);

export const brakingSchema = z.discriminatedUnion('by', [
  z.strictObject({
    by: z.literal('pressure'),
    ...common,
    ...ordered,
    level: points({ pressure_bar: z.number().min(0).max(300) }).describe('largest pressure, over speed'),
    slew: points({ rate_bar_per_s: z.number().min(0).max(5000) }).describe(
      'fastest change of the order, over speed',
    ),
    deceleration_per_bar_mps2: z.number().positive().max(5).describe('most that one bar gives, measured'),
  }),
  z.strictObject({
    by: z.literal('deceleration'),
    ...common,
    ...ordered,
    level: points({ deceleration_mps2: z.number().min(0).max(12) }).describe(
      'largest deceleration, over speed',
    ),
    slew: points({ rate_mps3: z.number().min(0).max(200) }).describe(
      'fastest change of the order, over speed',
    ),
  }),
  z.strictObject({
    by: z.literal('position').describe('travel of the pedal or its push rod, in % of its stroke'),
    ...common,
    ...ordered,
    level: points({ travel_percent: z.number().min(0).max(100) }).describe('largest travel, over speed'),
    slew: points({ rate_percent_per_s: z.number().min(0).max(2000) }).describe(
      'fastest change of the order, over speed',
    ),
    deceleration_per_percent_mps2: z
      .number()
      .positive()
      .max(5)
      .describe('most that one per cent gives, measured'),
  }),
]);

/** One output voltage of a spliced pedal, straight from rest to full. */
const trackSchema = z.strictObject({
  signal: z.string().min(1).describe('signal of the output message for this voltage'),
  rest_v: z.number().min(0).max(5.5).describe('with the pedal untouched'),
  full_v: z.number().min(0).max(5.5).describe('with the pedal to the floor'),
});

export const driveSchema = z.discriminatedUnion('by', [
  z.strictObject({
    by: z.literal('pedal').describe('two voltages in place of the pedal’s own, in % of its travel'),
    ...common,
    tracks: z.tuple([trackSchema, trackSchema]),
    window_v: z
      .number()
      .positive()
      .max(1)
      .describe('how far the second voltage may be from where the first says it belongs'),
    level: points({ pedal_percent: z.number().min(0).max(100) }).describe('furthest pedal, over speed'),
    slew: points({ rate_percent_per_s: z.number().min(0).max(2000) }).describe(
      'fastest change of the order, over speed',
    ),
    acceleration_per_percent_mps2: z
      .number()
      .positive()
      .max(1)
      .describe('most that one per cent gives, measured'),
  }),
  z.strictObject({
    by: z.literal('torque').describe('torque asked from the drive'),
    ...common,
    ...ordered,
    level: points({ torque_nm: z.number().min(0).max(2000) }).describe('largest torque, over speed'),
    slew: points({ rate_nm_per_s: z.number().min(0).max(50_000) }).describe(
      'fastest change of the order, over speed',
    ),
    acceleration_per_nm_mps2: z.number().positive().max(1).describe('most that one N·m gives, measured'),
  }),
]);
