/** The guard's figures as engines read them. */
import type { z } from 'zod';
import type { Camel } from '../dictionary/case.ts';
import type { guardSchema, pinSchema, steeringSchema } from './schema.ts';

export type GuardPlan = Camel<z.output<typeof guardSchema>>;
export type SteeringPlan = Camel<z.output<typeof steeringSchema>>;
export type Pin = Camel<z.output<typeof pinSchema>>;
