/** Every verdict on which the demo guard's proof rests, asked again of a second solver without a bound on its work. */
import { expect, test } from 'vitest';
import { atMost } from '../../src/guard/proof/atMost.ts';
import { demoQueries, noSecondSolver, secondVerdict } from '../guard/proof/secondSolver.ts';

test.skipIf(noSecondSolver && !process.env['CI'])(
  "a second solver gives the verdict of the first on every query of the demo guard's proof",
  { timeout: 3_600_000 },
  async () => {
    const { queries } = await demoQueries();
    const second = await atMost(2, queries, ({ text }) => secondVerdict(text));
    expect(second).toEqual(queries.map(({ verdict }) => verdict));
  },
);
