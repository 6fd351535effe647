/** What a logic program may hold, and the error of one that could not be built. */

/** Greatest magnitude of a value; −2³¹ is left out so that every value can be negated. */
export const INT_MAX = 2 ** 31 - 1;
export const CLOCK_MAX = 2 ** 32 - 1;

/** A program could not be built: what, in which program, and what would be right. */
export class LogicError extends Error {
  override name = 'LogicError';
}
