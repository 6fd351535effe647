/** Shape of `guard.yaml`: what bounds the controller, in physical units. */
import { z } from 'zod';
import { signalRefSchema } from '../bridge/schema.ts';
import { brakingSchema, driveSchema, steeringSchema } from './channels/schema.ts';

/** A digital input of the gateway, with the state that means "yes". */
export const pinSchema = z.strictObject({
  name: z.string().min(1),
  active: z.enum(['high', 'low']).describe('a stop input should be active low: a broken wire then stops'),
});

/** Units in which two measurements may be compared. */
export const COMPARED_UNITS = ['m/s', '°', '°/s', 'N·m', 'm/s²', 'bar', '%', 'V'] as const;

/** What the driver hands over, on which conditions, and what takes it back; the same for every channel. */
export const handoverSchema = z.strictObject({
  request: signalRefSchema.describe('flag by which the controller asks; 1 = it wants to'),
  speed: signalRefSchema.describe('speed of the car'),
  command_age_ms: z.number().positive().describe('any command older than this: trip'),
  sensor_age_ms: z.number().positive().describe('any sensor older than this: trip'),
  release_ms: z
    .number()
    .positive()
    .describe('after release or trip every order is back at zero within this time'),
  arm_hold_ms: z
    .number()
    .positive()
    .describe('the arming conditions must hold this long before the driver may hand over'),
  driver_torque: z
    .strictObject({
      signal: signalRefSchema.describe("driver's torque at the wheel"),
      at_nm: z.number().positive().describe('torque at or above this takes over'),
      for_ms: z.number().min(0).describe('… when it lasts this long'),
    })
    .optional(),
  driver_acts: z
    .array(
      z.strictObject({
        name: z.string().min(1).describe('"brake pedal", "accelerator", "cancel button"'),
        signal: signalRefSchema.describe('flag: 1 = the driver does it'),
        for_ms: z.number().min(0).describe('takes over when it lasts this long'),
      }),
    )
    .max(6)
    .default([]),
  agreement: z
    .array(
      z.strictObject({
        name: z.string().min(1).describe('"wheel speed and engine speed"'),
        first: signalRefSchema,
        second: signalRefSchema.describe('the same quantity, measured in another way'),
        unit: z.enum(COMPARED_UNITS),
        differ_by: z.number().positive().describe('further apart than this, in `unit`, for …'),
        for_ms: z.number().min(0).describe('… this long: trip'),
      }),
    )
    .max(4)
    .default([]),
  supply: z
    .strictObject({
      signal: signalRefSchema.describe('supply voltage of the actuators'),
      low_v: z.number().positive().max(60),
      high_v: z.number().positive().max(60),
      for_ms: z.number().min(0).describe('outside the band for this long: trip'),
    })
    .optional(),
});

/** Driving the parts from a radio remote on the bench, with limits of its own and never together with the controller. */
export const remoteSchema = z.strictObject({
  selected: pinSchema.describe('switch that gives the remote the place of the controller'),
  link: signalRefSchema.describe('flag of the receiver: 1 = the radio link stands'),
  age_ms: z.number().positive().describe('anything from the receiver older than this: trip'),
  speed_max_mps: z.number().min(0).max(5).default(2).describe('faster than this: trip'),
  share_percent: z
    .number()
    .min(1)
    .max(50)
    .default(20)
    .describe('of level and slew of every channel, in per cent, that the remote has'),
  steering: signalRefSchema
    .optional()
    .describe('command of the receiver, in the unit of the channel or one like it'),
  braking: signalRefSchema.optional(),
  drive: signalRefSchema.optional(),
});

export const budgetSchema = z.strictObject({
  reaction_time_s: z
    .number()
    .min(0.5)
    .max(10)
    .describe("the driver's, from the first wrong movement to counter-steering or braking"),
  detection_time_s: z
    .number()
    .min(0)
    .max(2)
    .default(0)
    .describe('until the guard itself stops a runaway; 0: it never does'),
  lateral_distance_m: z.number().positive().max(5).describe('room beside the car before it leaves its lane'),
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
  bend_acceleration_mps2: z
    .number()
    .min(0)
    .max(3)
    .optional()
    .describe(
      'sharpest bend, by its lateral acceleration, out of which a runaway is counted; without it any that the level can hold',
    ),
  variants: z
    .array(
      z.strictObject({
        name: z.string().min(1).describe('"full load", "wet road"'),
        mass_kg: z.number().min(200).max(20_000).optional(),
        cg_to_front_m: z.number().positive().optional(),
        grip: z.number().min(0.05).max(1.5).optional().describe('friction that tyres and road have together'),
      }),
    )
    .max(8)
    .default([])
    .describe('loads and roads for which the budget must hold too'),
  following: z
    .strictObject({
      gap_s: z.number().positive().max(10).describe('time gap that the car behind keeps'),
      reaction_time_s: z.number().min(0.3).max(5).describe("its driver's"),
      deceleration_mps2: z.number().positive().max(10).describe('with which it brakes then'),
      jerk_mps3: z
        .number()
        .positive()
        .max(20)
        .default(2.5)
        .describe('fastest change of unwanted braking; ISO 15622 has 2.5 above 20 m/s, from memory'),
    })
    .optional()
    .describe('for unwanted braking; needed where there is a channel for braking'),
  drive: z
    .strictObject({
      speed_gain_mps: z.number().positive().max(10).describe('most that unwanted drive may add to the speed'),
      distance_m: z.number().positive().max(50).describe('… and to the way'),
      braking_mps2: z.number().positive().max(10).describe('with which the driver brakes then'),
      jerk_mps3: z.number().positive().max(20).default(2.5).describe('fastest change of unwanted drive'),
    })
    .optional()
    .describe('for unwanted drive; needed where there is a channel for drive'),
});

export const guardSchema = z
  .strictObject({
    form: z.literal('guard/2'),
    arm_input: pinSchema.describe('button by which the driver hands over; a fresh press is needed each time'),
    stop_input: pinSchema,
    handover: handoverSchema,
    steering: steeringSchema.optional(),
    braking: brakingSchema.optional(),
    drive: driveSchema.optional(),
    remote: remoteSchema.optional().describe('bench and stand only'),
    budget: budgetSchema,
  })
  .refine((guard) => guard.steering || guard.braking || guard.drive, {
    path: ['steering'],
    message: 'at least one channel: steering, braking or drive',
  });
