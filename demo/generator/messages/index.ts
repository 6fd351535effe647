/** All messages of the demo, bus by bus; one more message is one more entry in its bus's list. */
import { COLUMN } from './column.ts';
import { CONTROLLER } from './controller.ts';
import type { Traffic } from './define.ts';
import { DONORS } from './donors.ts';
import { VAN } from './van.ts';

export const TRAFFIC: readonly Traffic[] = [...COLUMN, ...VAN, ...DONORS, ...CONTROLLER];
export type { Mischief, Traffic } from './define.ts';
