/**
 * Speed × yaw rate = lateral acceleration (steady cornering, any text on vehicle dynamics: a = v · ω): a signal that is the
 * product of two others and of neither alone. Raw values have unknown zero points, so z = a·v·w + b·v + c·w is fitted and
 * the share of the product is what counts.
 */
import { type Course, dot, unit } from './course.ts';
import { fitOf } from './fit.ts';
import { type Grid, keyOf, placeOf } from './grid.ts';
import type { Relation } from './model.ts';
import { chanceOf, effectiveCount, quantile } from './statistics.ts';

/** Signals of each part that are tried, and cells of the thinned series. */
const SPEEDS = 8;
const OTHERS = 24;
const CELLS = 2000;
const CHANCE = 0.01;
const EXPLAINED = 0.93;

export function productsOf(
  grid: Grid,
  heads: readonly Course[],
  straight: readonly Relation[],
  family: ReadonlyMap<string, string>,
): Relation[] {
  const numbers = heads.filter(
    ({ signal, drifts }) => signal.kind === 'number' && signal.changes >= 50 && !drifts,
  );
  const speeds = numbers
    .filter(({ signal }) => speedLike(signal.value) && signal.signed === false)
    .map((course) => ({ course, companions: companions(course, straight) }))
    .sort((a, b) => b.companions - a.companions)
    .slice(0, SPEEDS)
    .map(({ course }) => course);
  const stride = Math.max(1, Math.floor(grid.cells / CELLS));
  const thin = (values: Float64Array) => values.filter((_, i) => i % stride === 0);
  const swinging = numbers
    .filter(
      ({ signal }) => signal.length >= 6 && twoSided(signal.value) && signal.changes > 0.05 * grid.cells,
    )
    .sort((a, b) => b.signal.changes - a.signal.changes)
    .slice(0, 4 * OTHERS);
  const familyOf = (c: Course) => family.get(keyOf(c.signal));
  const found: Relation[] = [];
  for (const v of speeds) {
    const speed = thin(v.signal.value);
    for (const w of swinging) {
      if (w === v) continue;
      const turn = thin(w.signal.value);
      const middle = turn.reduce((sum, x) => sum + x, 0) / turn.length;
      const product = speed.map((s, i) => s * ((turn[i] as number) - middle));
      if (!unit(product)) continue;
      const columns = [unitOf(speed), unitOf(turn)];
      for (const z of swinging) {
        if (z === v || z === w || familyOf(z) === familyOf(v) || familyOf(z) === familyOf(w)) continue;
        const r = Math.abs(dot(w.sketch, z.sketch));
        // The product of a speed and a turn follows the turn in part: without that it is not worth a look.
        if (r < 0.4 || r > 0.9999) continue;
        const target = unitOf(thin(z.signal.value));
        const all = fitOf([product, ...columns], target);
        if (!all || all.explained < EXPLAINED) continue;
        const single = fitOf(columns, target)?.explained ?? 1;
        const partial = Math.sqrt(Math.max(0, 1 - (1 - all.explained) / Math.max(1e-12, 1 - single)));
        const effective = effectiveCount(target, product);
        if (1 - all.explained > 0.4 * (1 - single)) continue;
        if (chanceOf(partial, effective) * speeds.length * swinging.length > CHANCE) continue;
        found.push({
          kind: 'product',
          from: placeOf(v.signal),
          to: placeOf(z.signal),
          with: placeOf(w.signal),
          factor: all.factors[0] as number,
          offset: 0,
          withFactor: 1,
          delayS: 0,
          delayLowS: -grid.cellS,
          delayHighS: grid.cellS,
          r: Math.sqrt(all.explained),
          probability: Math.min(0.95, (all.explained * effective) / (effective + 4)),
          evidence: [
            {
              text: `With the product, ${(100 * all.explained).toFixed(1)} % of it is explained; with both factors side by side ${(100 * single).toFixed(1)} %.`,
            },
          ],
        });
      }
    }
  }
  return best(found, family);
}

/** For each product the closest pair of factors, and no circle: what a signal is made of is not made of it. */
function best(found: Relation[], family: ReadonlyMap<string, string>): Relation[] {
  const of = (p: Relation['from']) => family.get(keyOf(p)) as string;
  const madeOf = new Map<string, string>();
  return found
    .sort((a, b) => b.r - a.r)
    .filter((one) => {
      const to = of(one.to);
      if (madeOf.has(to)) return false;
      for (let at: string | undefined = of(one.with as Relation['from']); at; at = madeOf.get(at))
        if (at === to) return false;
      madeOf.set(to, of(one.with as Relation['from']));
      return true;
    });
}

/** Never below zero, near its least value for a while or far above it, and not jumping about. */
function speedLike(value: Float64Array): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = 0;
  for (const v of value) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  if (low < 0 || high - low < 20) return false;
  // What rests does so at its least value, and a speed rests at 0.
  const rests = value.reduce((n, v) => n + (v <= low + 0.02 * (high - low) ? 1 : 0), 0);
  if (rests > 0.05 * value.length && low > 0.01 * high) return false;
  let jumps = 0;
  let up = 0;
  let down = 0;
  for (let c = 1; c < value.length; c++) {
    const step = (value[c] as number) - (value[c - 1] as number);
    if (Math.abs(step) > 0.2 * (high - low)) jumps++;
    if (step > 0) up++;
    else if (step < 0) down++;
  }
  // What only rises is a distance or a clock.
  return jumps === 0 && Math.min(up, down) > 0.05 * (up + down);
}

/** Departs from its usual value both ways, as turning left and right does. */
function twoSided(value: Float64Array): boolean {
  const [low, middle, high] = [0.03, 0.5, 0.97].map((share) => quantile(value, share)) as [
    number,
    number,
    number,
  ];
  const [down, up] = [middle - low, high - middle];
  return Math.min(down, up) > 0.08 * Math.max(down, up) && Math.max(down, up) > 0;
}

function companions({ signal }: Course, straight: readonly Relation[]): number {
  const here = (p: Relation['from']) =>
    p.bus === signal.bus && p.id === signal.id && p.start === signal.start;
  return straight.filter((s) => here(s.from) || here(s.to)).length;
}

function unitOf(values: Float64Array): Float64Array {
  const copy = values.slice();
  unit(copy);
  return copy;
}
