/** Shape of `guard.yaml`: what bounds the controller, in physical units. */
import { z } from 'zod';
import { messageRefSchema, signalRefSchema } from '../bridge/schema.ts';

const levelPoint = z.strictObject({
  speed_mps: z.number().min(0).max(100),
  angle_deg: z.number().min(0).max(2000),
});
const slewPoint = z.strictObject({
  speed_mps: z.number().min(0).max(100),
  rate_deg_per_s: z.number().min(0).max(5000),
});

/** A digital input of the gateway, with the state that means "yes". */
export const pinSchema = z.strictObject({
  name: z.string().min(1),
  active: z.enum(['high', 'low']).describe('a stop input should be active low: a broken wire then stops'),
});

export const steeringSchema = z.strictObject({
  /** Angles are steering-wheel angles. */
  command: signalRefSchema.describe('angle that the controller asks for, degrees at the steering wheel'),
  request: signalRefSchema.describe('flag by which the controller asks to steer; 1 = it wants to'),
  speed: signalRefSchema.describe('speed of the car, m/s or km/h'),
  angle: signalRefSchema.describe('measured steering wheel angle, degrees'),
  driver_torque: signalRefSchema.describe("driver's torque at the wheel, N·m"),
  output: messageRefSchema.describe('message that orders the steering unit'),
  output_angle: z.string().min(1).describe('its signal for the ordered angle'),
  output_active: z.string().min(1).describe('its flag: 1 = follow the order'),
  output_period_ms: z.number().positive(),
  level: z.array(levelPoint).min(2).max(16).describe('largest angle either side, over speed'),
  slew: z.array(slewPoint).min(2).max(16).describe('fastest change of the ordered angle, over speed'),
  command_age_ms: z.number().positive().describe('command older than this: trip'),
  sensor_age_ms: z.number().positive().describe('speed, angle or torque older than this: trip'),
  release_ms: z
    .number()
    .positive()
    .describe('after release or trip the order is back at zero within this time'),
  override_torque_nm: z.number().positive().describe('driver torque at or above this takes over'),
  override_ms: z.number().min(0).describe('… when it lasts this long'),
  arm_hold_ms: z
    .number()
    .positive()
    .describe('the arming conditions must hold this long before the driver may hand over'),
  arm_angle_deg: z
    .number()
    .positive()
    .describe('arming only while command and measured angle differ by less than this'),
});

export const guardSchema = z.strictObject({
  form: z.literal('guard/1'),
  arm_input: pinSchema.describe('button by which the driver hands over; a fresh press is needed each time'),
  stop_input: pinSchema,
  steering: steeringSchema,
  budget: z.strictObject({
    reaction_time_s: z
      .number()
      .min(0.5)
      .max(10)
      .describe("the driver's, from the first wrong movement to counter-steering"),
    detection_time_s: z
      .number()
      .min(0)
      .max(2)
      .default(0)
      .describe('until the guard itself stops a runaway; 0: it never does'),
    lateral_distance_m: z
      .number()
      .positive()
      .max(5)
      .describe('room beside the car before it leaves its lane'),
    lateral_acceleration_mps2: z
      .number()
      .positive()
      .max(3)
      .default(3)
      .describe('ISO 11270:2014, 5.4: at most 3'),
    lateral_jerk_mps3: z
      .number()
      .positive()
      .max(5)
      .default(5)
      .describe('mean over 0.5 s, ISO 11270:2014, 5.4: at most 5'),
    speed_max_mps: z.number().positive().max(70),
  }),
});
