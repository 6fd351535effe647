/**
 * Measures how often a field of the cut is right at each posterior, on made-up messages that the weights were not learned
 * from, and writes src/findings/cut/calibration.ts: a rising curve (pool adjacent violators: Ayer and others 1955).
 * Run after cut.ts: node dist/bench/train/calibrate.js [seed 9] [buses 60] [file to write]
 */
import { writeFileSync } from 'node:fs';
import { bitsOf, busStyle, coverOf, draftSegmentation } from '../../src/findings/segment.ts';
import { Dice } from './dice.ts';
import { madeBus } from './messages.ts';

const seed = Number(process.argv[2] ?? 9);
const buses = Number(process.argv[3] ?? 60);
const file = process.argv[4] ?? 'src/findings/cut/calibration.ts';

const dice = new Dice(seed + 500_000);
const claims: { posterior: number; right: number }[] = [];
for (let bus = 0; bus < buses; bus++) {
  const made = madeBus(dice, bus, 8);
  const drafts = made.map(({ rows, taken }) => draftSegmentation(rows, taken));
  const style = busStyle(drafts);
  drafts.forEach((draft, m) => {
    const moves = new Set(bitsOf({ lane: draft.lanes[0], from: 0, to: 8 * draft.rows.length - 1 }));
    const truth = new Set(
      (made[m]?.fields ?? []).map(({ bits }) =>
        bits
          .filter((bit) => moves.has(bit))
          .sort(rising)
          .join(),
      ),
    );
    for (const { lane, candidate, probability } of coverOf(draft, style, m)) {
      const bits = bitsOf({ lane, from: candidate.from, to: candidate.to });
      claims.push({ posterior: probability, right: truth.has(bits.sort(rising).join()) ? 1 : 0 });
    }
  });
}
claims.sort((a, b) => a.posterior - b.posterior);
const curve = risingCurve(claims);
const rows = curve.map(([p, right]) => `  [${p.toFixed(4)}, ${right.toFixed(3)}],`).join('\n');
writeFileSync(
  file,
  `/**
 * Share of right fields at each posterior, of ${claims.length} fields of made-up messages. Written by bench/train/calibrate.ts with seed
 * ${seed} and ${buses} buses; no recording is in it.
 */
export const MEASURED: readonly (readonly [posterior: number, right: number])[] = [
  [0, 0],
${rows}
  [1, ${(curve.at(-1)?.[1] ?? 1).toFixed(3)}],
];
`,
);
console.log(`${claims.length} fields, ${claims.filter(({ right }) => right).length} right`);

function rising(a: number, b: number): number {
  return a - b;
}

/** Means of equal parts of the claims, neighbours that fall joined until the curve rises. */
function risingCurve(sorted: typeof claims): [number, number][] {
  const parts = 14;
  const pools: { n: number; posterior: number; right: number }[] = [];
  for (let k = 0; k < parts; k++) {
    const some = sorted.slice(
      Math.round((k * sorted.length) / parts),
      Math.round(((k + 1) * sorted.length) / parts),
    );
    const n = some.length;
    pools.push({
      n,
      posterior: some.reduce((sum, one) => sum + one.posterior, 0) / n,
      right: some.reduce((sum, one) => sum + one.right, 0) / n,
    });
    for (;;) {
      const [a, b] = pools.slice(-2);
      if (!a || !b || b.right >= a.right) break;
      const joined = a.n + b.n;
      pools.splice(-2, 2, {
        n: joined,
        posterior: (a.n * a.posterior + b.n * b.posterior) / joined,
        right: (a.n * a.right + b.n * b.right) / joined,
      });
    }
  }
  return pools.map(({ posterior, right }) => [posterior, right]);
}
