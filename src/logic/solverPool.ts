/** Several solvers as one: queries that wait for each other go to the next that is free. */
import { openSolver, type Solver } from './solver.ts';

/** Starts `count` solvers, each with threads of its own; close the pool as one solver. */
export async function openSolvers(count: number): Promise<Solver> {
  return solverPool(await Promise.all(Array.from({ length: count }, () => openSolver())));
}

/** The solvers behind one door. A query goes to the one with the fewest before it. */
export function solverPool(solvers: readonly Solver[]): Solver {
  const waiting = solvers.map(() => 0);
  return {
    width: solvers.length,
    async check(text, options) {
      const at = waiting.indexOf(Math.min(...waiting));
      waiting[at]!++;
      try {
        return await solvers[at]!.check(text, options);
      } finally {
        waiting[at]!--;
      }
    },
    async close() {
      await Promise.all(solvers.map((solver) => solver.close()));
    },
  };
}
