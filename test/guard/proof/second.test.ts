/** The verdicts on which the demo guard's proof rests, asked again of a solver that shares no code with the first. */
import { expect, test } from 'vitest';
import { atMost } from '../../../src/guard/proof/atMost.ts';
import { demoQueries, noSecondSolver, secondVerdict } from './secondSolver.ts';

/** In the second solver's own units, so that a busy machine changes nothing; the long test asks without a bound. */
const RLIMIT = 200_000;

test.skipIf(noSecondSolver && !process.env['CI'])(
  `a second solver gives the verdict of the first on the queries of the demo guard's proof that it decides within a bound${noSecondSolver ? ' (install the Debian package cvc5)' : ''}`,
  { timeout: 600_000 },
  async () => {
    expect(noSecondSolver, 'install the Debian package cvc5').toBe(false);
    const { report, queries } = await demoQueries();
    expect(new Set(report.obligations.map((o) => o.status))).toEqual(new Set(['proved']));
    expect(queries.length).toBeGreaterThan(20);
    const second = await atMost(2, queries, ({ text }) => secondVerdict(text, RLIMIT));
    const decided = queries.flatMap(({ verdict }, i) =>
      second[i] === 'unknown' ? [] : [{ first: verdict, second: second[i] }],
    );
    for (const both of decided) expect(both.second).toBe(both.first);
    expect(decided.length).toBeGreaterThan(queries.length * 0.7);
    // Without its last assertion, the negated claim, a query asks only whether the guard can run at all: it can.
    const open = queries[0]!.text.replace(/\(assert [^\n]*\)\s*$/, '');
    expect(open).not.toBe(queries[0]!.text);
    expect(await secondVerdict(open)).toBe('sat');
  },
);
