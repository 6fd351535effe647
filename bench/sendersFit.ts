/**
 * Fits the weights of src/findings/senders/weights.ts on simulated recordings alone (ridge logistic regression on all pairs)
 * and prints them. The seeds differ from those of the bench and of the tests.
 * Run: node dist/bench/sendersFit.js [number of recordings, default 60]
 */
import { evidenceCues } from '../src/findings/senders/evidence.ts';
import { CUES } from '../src/findings/senders/pair.ts';
import { recordingsOf } from '../src/findings/senders/recordings.ts';
import { type Stamps, simulate } from './senders/simulate.ts';

const STAMPS: readonly Stamps[] = ['fine', 'hardware', 'coarse', 'bunched'];
const LENGTHS = [60, 120, 300];
const RIDGE = 3;
const recordings = Number(process.argv[2] ?? 60);

const rows: Float64Array[] = [];
const same: number[] = [];
for (let k = 0; k < recordings; k++) {
  const plan = {
    seed: 5000 + k,
    seconds: LENGTHS[k % LENGTHS.length] as number,
    stamps: STAMPS[Math.floor(k / LENGTHS.length) % STAMPS.length] as Stamps,
    spacing: k % 5 === 4 ? ('crowded' as const) : ('ladder' as const),
  };
  const { capture, unitOf } = simulate(plan);
  const { messages, recordings: parts } = recordingsOf(capture);
  for (const { i, j, cues } of evidenceCues(parts)) {
    rows.push(cues);
    same.push(unitOf.get(messages[i]?.id as number) === unitOf.get(messages[j]?.id as number) ? 1 : 0);
  }
}
const weights = logistic(rows, same);
console.log(`${recordings} recordings, ${rows.length} pairs, ${same.reduce((a, b) => a + b, 0)} of one unit`);
console.log(`intercept (left to the sampler's prior): ${(weights[0] as number).toFixed(2)}`);
CUES.forEach((cue, k) => {
  console.log(`${cue}: ${(weights[k + 1] as number).toFixed(2)},`);
});

/** Newton's method on the log likelihood less RIDGE/2 · |w|², the intercept left free. */
function logistic(x: readonly Float64Array[], y: readonly number[]): Float64Array {
  const d = CUES.length + 1;
  const w: Float64Array = new Float64Array(d);
  for (let round = 0; round < 30; round++) {
    const gradient = new Float64Array(d);
    const hessian = Array.from({ length: d }, (_, a) =>
      Float64Array.from({ length: d }, (_, b) => (a === b ? (a === 0 ? 1e-6 : RIDGE) : 0)),
    );
    for (let a = 1; a < d; a++) gradient[a] = -RIDGE * (w[a] as number);
    for (let r = 0; r < x.length; r++) {
      const cues = x[r] as Float64Array;
      let z = w[0] as number;
      for (let a = 1; a < d; a++) z += (w[a] as number) * (cues[a - 1] as number);
      const p = 1 / (1 + Math.exp(-z));
      for (let a = 0; a < d; a++) {
        const xa = a === 0 ? 1 : (cues[a - 1] as number);
        if (xa === 0) continue;
        gradient[a] = (gradient[a] as number) + ((y[r] as number) - p) * xa;
        const row = hessian[a] as Float64Array;
        for (let b = 0; b < d; b++)
          row[b] = (row[b] as number) + p * (1 - p) * xa * (b === 0 ? 1 : (cues[b - 1] as number));
      }
    }
    const step = solved(hessian, gradient);
    for (let a = 0; a < d; a++) w[a] = (w[a] as number) + (step[a] as number);
    if (step.every((s) => Math.abs(s) < 1e-6)) break;
  }
  return w;
}

/** Gaussian elimination with pivoting. */
function solved(matrix: Float64Array[], right: Float64Array): Float64Array {
  const d = right.length;
  const m = matrix.map((row, k) => Float64Array.from([...row, right[k] as number]));
  for (let c = 0; c < d; c++) {
    let pivot = c;
    for (let r = c + 1; r < d; r++)
      if (Math.abs(m[r]?.[c] as number) > Math.abs(m[pivot]?.[c] as number)) pivot = r;
    const swap = m[c] as (typeof m)[number];
    m[c] = m[pivot] as (typeof m)[number];
    m[pivot] = swap;
    const top = m[c] as Float64Array;
    for (let r = 0; r < d; r++) {
      if (r === c) continue;
      const row = m[r] as Float64Array;
      const factor = (row[c] as number) / (top[c] as number);
      for (let k = c; k <= d; k++) row[k] = (row[k] as number) - factor * (top[k] as number);
    }
  }
  return Float64Array.from(m, (row, k) => (row[d] as number) / (row[k] as number));
}
