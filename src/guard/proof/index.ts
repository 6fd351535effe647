/**
 * The proof of the guard: simulation finds what is broken, induction with helping statements shows what holds, a search
 * from reached states decides what is left, and every answer of the solver is replayed before it is believed.
 */
export * from './prove.ts';
export * from './strength.ts';
export { type Claim, guardSubject, type Subject } from './subject.ts';
export type { Column, Counterexample } from './trace.ts';
