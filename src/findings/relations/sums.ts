/**
 * Signals that are a weighted sum or difference of two others. Candidates come from sketches in two ways: what a best single
 * companion leaves unexplained, and the difference of two that run together (as of wheel speeds in a bend).
 */
import { type Course, dot, unit } from './course.ts';
import { fitOf } from './fit.ts';
import { type Grid, keyOf, placeOf } from './grid.ts';
import type { Relation } from './model.ts';
import { chanceOf, effectiveCount } from './statistics.ts';

/** Courses that take part, the most restless first; pairs whose difference is looked at. */
const MOST = 160;
const MOST_PAIRS = 200;
const EXPLAINED = 0.96;
const CHANCE = 0.01;

export function sumsOf(
  grid: Grid,
  heads: readonly Course[],
  family: ReadonlyMap<string, string>,
): Relation[] {
  const numbers = heads
    .filter(({ signal, drifts }) => signal.kind === 'number' && signal.changes >= 30 && !drifts)
    .sort((a, b) => b.signal.changes - a.signal.changes)
    .slice(0, MOST);
  const triples = new Map<string, [number, number, number]>();
  const propose = (z: number, x: number, y: number) => {
    if (z === x || z === y || x === y) return;
    triples.set([z, ...[x, y].sort((p, q) => p - q)].join(), [z, x, y]);
  };
  const strong: { x: number; y: number; r: number }[] = [];
  for (let z = 0; z < numbers.length; z++) {
    const target = numbers[z] as Course;
    const r = numbers.map((c) => dot(c.sketch, target.sketch));
    let x = -1;
    for (let k = 0; k < r.length; k++) {
      if (k !== z && (x < 0 || Math.abs(r[k] as number) > Math.abs(r[x] as number))) x = k;
      if (k > z && Math.abs(r[k] as number) > 0.8) strong.push({ x: z, y: k, r: r[k] as number });
    }
    if (x < 0 || Math.abs(r[x] as number) > 0.995 || Math.abs(r[x] as number) < 0.4) continue;
    const y = nearest(numbers, without(target.sketch, (numbers[x] as Course).sketch), [z, x]);
    if (y >= 0) propose(z, x, y);
  }
  strong.sort((a, b) => Math.abs(b.r) - Math.abs(a.r));
  for (const { x, y } of strong.slice(0, MOST_PAIRS)) {
    const difference = without((numbers[x] as Course).sketch, (numbers[y] as Course).sketch);
    const z = nearest(numbers, difference, [x, y]);
    if (z >= 0) propose(z, x, y);
  }
  const found: Relation[] = [];
  for (const [z, x, y] of triples.values()) {
    const one = verified(
      grid,
      numbers[z] as Course,
      numbers[x] as Course,
      numbers[y] as Course,
      triples.size,
    );
    if (one) found.push(one);
  }
  return withoutEchoes(found, family);
}

/** What `a` has beyond its share of `b`, as a unit sketch. */
function without(a: Float32Array, b: Float32Array): Float32Array {
  const share = dot(a, b);
  const rest = a.map((v, i) => v - share * (b[i] as number));
  unit(rest);
  return rest;
}

function nearest(numbers: readonly Course[], sketch: Float32Array, but: readonly number[]): number {
  let best = -1;
  let r = 0.6;
  for (let k = 0; k < numbers.length; k++) {
    if (but.includes(k)) continue;
    const size = Math.abs(dot((numbers[k] as Course).sketch, sketch));
    if (size > r) {
      best = k;
      r = size;
    }
  }
  return best;
}

function verified(grid: Grid, z: Course, x: Course, y: Course, tried: number): Relation | null {
  const both = fitOf([x.fast, y.fast], z.fast);
  if (!both || both.explained < EXPLAINED) return null;
  const alone = Math.max(fitOf([x.fast], z.fast)?.explained ?? 0, fitOf([y.fast], z.fast)?.explained ?? 0);
  if (1 - both.explained > 0.2 * (1 - alone)) return null;
  // Partial correlation of the second with what the first leaves, worth as much as both series are together.
  const stride = Math.max(1, Math.floor(grid.cells / 4000));
  const thin = (c: Course) => c.fast.filter((_, i) => i % stride === 0);
  const effective = effectiveCount(thin(z), thin(y));
  const partial = Math.sqrt(1 - (1 - both.explained) / (1 - alone));
  if (chanceOf(partial, effective) * tried > CHANCE || effective < 10) return null;
  const scaleOf = (c: Course) => scale(c);
  const factor = ((both.factors[0] as number) * scaleOf(z)) / scaleOf(x);
  const withFactor = ((both.factors[1] as number) * scaleOf(z)) / scaleOf(y);
  return {
    kind: 'sum',
    from: placeOf(x.signal),
    to: placeOf(z.signal),
    with: placeOf(y.signal),
    factor,
    withFactor,
    offset: level(z) - factor * level(x) - withFactor * level(y),
    delayS: 0,
    delayLowS: -grid.cellS,
    delayHighS: grid.cellS,
    r: Math.sqrt(both.explained),
    probability: Math.min(0.9, (both.explained * effective) / (effective + 6)),
    evidence: [
      {
        text: `Both together explain ${(100 * both.explained).toFixed(1)} % of its movement, either alone at most ${(100 * alone).toFixed(1)} %.`,
      },
    ],
  };
}

/** Of claims about the same families of signals only the closest; none about signals that all run together anyway. */
function withoutEchoes(found: Relation[], family: ReadonlyMap<string, string>): Relation[] {
  const of = (p: Relation['from']) => family.get(keyOf(p)) as string;
  const seen = new Set<string>();
  return found
    .sort((a, b) => b.r - a.r)
    .filter((one) => {
      const [x, y, z] = [of(one.from), of(one.with as Relation['from']), of(one.to)];
      const all = [x, y, z].sort().join('|');
      if (seen.has(all) || (x === z && y === z)) return false;
      seen.add(all);
      return true;
    });
}

/** Raw units per unit of `fast`. */
function scale({ signal, fast }: Course): number {
  // `fast` is the raw course times a constant: the ratio of any two of its larger differences to the raw ones.
  let raw = 0;
  let made = 0;
  for (let c = 1; c < fast.length; c++) {
    raw += Math.abs((signal.value[c] as number) - (signal.value[c - 1] as number));
    made += Math.abs((fast[c] as number) - (fast[c - 1] as number));
  }
  return made > 0 ? raw / made : 0;
}

function level({ signal }: Course): number {
  let sum = 0;
  for (const v of signal.value) sum += v;
  return sum / signal.value.length;
}
