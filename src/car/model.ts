/** Host car figures as engines read them. */
import type { z } from 'zod';
import type { Camel } from '../dictionary/case.ts';
import type { hostSchema } from './schema.ts';

export type Host = Camel<z.output<typeof hostSchema>>;
