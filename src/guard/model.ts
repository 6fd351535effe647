/** The guard's figures as engines read them. */
import type { z } from 'zod';
import type { Camel } from '../dictionary/case.ts';
import type { brakingSchema, driveSchema, steeringSchema } from './channels/schema.ts';
import type { guardSchema, handoverSchema, pinSchema } from './schema.ts';

export type GuardPlan = Camel<z.output<typeof guardSchema>>;
export type HandoverPlan = Camel<z.output<typeof handoverSchema>>;
export type SteeringPlan = Camel<z.output<typeof steeringSchema>>;
export type BrakingPlan = Camel<z.output<typeof brakingSchema>>;
export type DrivePlan = Camel<z.output<typeof driveSchema>>;
export type Pin = Camel<z.output<typeof pinSchema>>;
