/** Figures of the host car that the single-track model and the budget need: the `host` part of `build.yaml`. */
import { z } from 'zod';

export const hostSchema = z.strictObject({
  name: z.string().min(1),
  mass_kg: z.number().min(200).max(20_000).describe('as driven: with driver, parts and usual load'),
  yaw_inertia_kgm2: z.number().positive().describe('about the vertical axis through the centre of gravity'),
  wheelbase_m: z.number().min(1).max(10),
  cg_to_front_m: z
    .number()
    .positive()
    .describe('centre of gravity behind the front axle; less than the wheelbase'),
  front_stiffness_n_per_rad: z
    .number()
    .positive()
    .describe('cornering stiffness of the front axle, both tyres together'),
  rear_stiffness_n_per_rad: z
    .number()
    .positive()
    .describe('cornering stiffness of the rear axle, both tyres together'),
  steering_ratio: z.number().min(5).max(40).describe('steering wheel angle over road wheel angle'),
  width_m: z.number().min(1).max(3).describe('without mirrors'),
});
