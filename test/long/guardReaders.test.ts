/** Ten million steps through the three readers of the demo's guard. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { stepOf } from '../../src/build/gatewayOf.ts';
import { loadBuild } from '../../src/build/load.ts';
import { guardFigures } from '../../src/guard/figures.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { openSolver, type Solver } from '../../src/logic/solver.ts';
import { GuardC, interpreterDiffers, type Stretch, solverDiffers, stretches } from '../guard/readers.ts';
import { withoutGcc } from '../logic/compiler.ts';

const SEED = 7;
const STEPS = 10_000_000;
const PIECE = 100_000;
let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

test.skipIf(withoutGcc)(
  `run and C agree in ${STEPS} steps of seed ${SEED}, the interpreter in a tenth of them, the solver's text in 1,000`,
  { timeout: 3_600_000 },
  async () => {
    const { build } = await loadBuild('demo');
    const figures = guardFigures(build!.guard!, stepOf(build!));
    const program = guardProgram(figures);
    const c = new GuardC(program);
    const source = stretches(program, figures, SEED, PIECE);
    for (let piece = 0; piece < STEPS / PIECE; piece++) {
      const stretch = source.next().value as Stretch;
      expect(c.differs(stretch), `piece ${piece}`).toBe(-1);
      expect(interpreterDiffers(program, { ...stretch, steps: PIECE / 10 }), `piece ${piece}`).toBe(-1);
      const drawn = Array.from({ length: 10 }, (_, i) => (i * 9973 + piece * 131) % PIECE);
      expect(await solverDiffers(solver, program, stretch, drawn), `piece ${piece}`).toEqual([]);
    }
    c.remove();
  },
);
