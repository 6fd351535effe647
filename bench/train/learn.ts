/**
 * Learning of the scores: the weights that make the true covers of made-up messages likeliest, by stochastic gradient
 * descent (Adam: Kingma and Ba, 2015) on the mean of log Z(all covers) − log Z(covers that agree with the truth).
 */
import type { Scorer } from '../../src/findings/cut/score.ts';
import { type Chain, probabilities } from './chain.ts';
import { Dice } from './dice.ts';

export interface Lesson {
  chain: Chain;
  /** candidates × inputs. */
  inputs: Float32Array;
}

export interface Learning {
  inputs: number;
  units: number;
  rounds: number;
  seed: number;
  /** `heldBack` works out the loss on what is not learned from. */
  onRound?: (round: number, loss: number, heldBack: () => number) => void;
}

const BATCH = 12;
const RATE = 0.012;
const DECAY = 0.05;

export function learn(lessons: readonly Lesson[], heldBack: readonly Lesson[], learning: Learning): Scorer {
  const { inputs: d, units: h } = learning;
  const scale = scalesOf(lessons, d);
  // Linear weights, then per unit: its weights, offset, and its own weight.
  const size = d + h * (d + 2);
  const dice = new Dice(learning.seed);
  const w = new Float64Array(size);
  for (let u = 0; u < h; u++) {
    const at = d + u * (d + 2);
    for (let k = 0; k < d; k++) w[at + k] = (0.5 * dice.normal()) / Math.sqrt(d);
    w[at + d + 1] = 0.3 * dice.normal();
  }
  const mean = new Float64Array(size);
  const square = new Float64Array(size);
  const gradient = new Float64Array(size);
  let steps = 0;
  const total = learning.rounds * Math.ceil(lessons.length / BATCH);
  for (let round = 1; round <= learning.rounds; round++) {
    const shuffled = lessons.map((_, k) => k);
    for (let k = shuffled.length - 1; k > 0; k--) {
      const j = dice.whole(0, k);
      [shuffled[k], shuffled[j]] = [shuffled[j] as number, shuffled[k] as number];
    }
    let loss = 0;
    for (let from = 0; from < shuffled.length; from += BATCH) {
      gradient.fill(0);
      const batch = shuffled.slice(from, from + BATCH);
      for (const k of batch) loss += addGradient(lessons[k] as Lesson, w, scale, d, h, gradient);
      steps++;
      const rate = RATE * 0.5 * (1 + Math.cos((Math.PI * steps) / total)) * Math.min(1, steps / 30);
      for (let k = 0; k < size; k++) {
        const g = (gradient[k] as number) / batch.length;
        mean[k] = 0.9 * (mean[k] as number) + 0.1 * g;
        square[k] = 0.999 * (square[k] as number) + 0.001 * g * g;
        const m = (mean[k] as number) / (1 - 0.9 ** steps);
        const s = (square[k] as number) / (1 - 0.999 ** steps);
        w[k] = (w[k] as number) - rate * (m / (Math.sqrt(s) + 1e-8) + DECAY * (w[k] as number));
      }
    }
    learning.onRound?.(round, loss / lessons.length, () => {
      const unused = new Float64Array(size);
      const sum = heldBack.reduce((total, one) => total + addGradient(one, w, scale, d, h, unused), 0);
      return sum / Math.max(1, heldBack.length);
    });
  }
  return unscaled(w, scale, d, h);
}

let scores = new Float64Array(0);
let all = new Float64Array(0);
let right = new Float64Array(0);
let before = new Float64Array(0);

/** Adds the gradient of one message; returns its loss. */
function addGradient(
  { chain, inputs }: Lesson,
  w: Float64Array,
  scale: Float64Array,
  d: number,
  h: number,
  gradient: Float64Array,
): number {
  const count = chain.candidates;
  if (scores.length < count) {
    scores = new Float64Array(2 * count);
    all = new Float64Array(2 * count);
    right = new Float64Array(2 * count);
  }
  if (before.length < count * h) before = new Float64Array(2 * count * h);
  const x = new Float64Array(d);
  for (let c = 0; c < count; c++) {
    for (let k = 0; k < d; k++) x[k] = (inputs[c * d + k] as number) * (scale[k] as number);
    let score = 0;
    for (let k = 0; k < d; k++) score += (w[k] as number) * (x[k] as number);
    for (let u = 0; u < h; u++) {
      const at = d + u * (d + 2);
      let sum = w[at + d] as number;
      for (let k = 0; k < d; k++) sum += (w[at + k] as number) * (x[k] as number);
      before[c * h + u] = sum;
      score += ((w[at + d + 1] as number) * sum) / (1 + Math.abs(sum));
    }
    scores[c] = score;
  }
  const zRight = probabilities(chain, scores, 'agreeing', right);
  const zAll = probabilities(chain, scores, 'all', all);
  for (let c = 0; c < count; c++) {
    const g = (all[c] as number) - (right[c] as number);
    if (Math.abs(g) < 1e-5) continue;
    for (let k = 0; k < d; k++) x[k] = (inputs[c * d + k] as number) * (scale[k] as number);
    for (let k = 0; k < d; k++) gradient[k] = (gradient[k] as number) + g * (x[k] as number);
    for (let u = 0; u < h; u++) {
      const at = d + u * (d + 2);
      const sum = before[c * h + u] as number;
      const size = 1 + Math.abs(sum);
      gradient[at + d + 1] = (gradient[at + d + 1] as number) + (g * sum) / size;
      const back = (g * (w[at + d + 1] as number)) / (size * size);
      gradient[at + d] = (gradient[at + d] as number) + back;
      for (let k = 0; k < d; k++) gradient[at + k] = (gradient[at + k] as number) + back * (x[k] as number);
    }
  }
  return zAll - zRight;
}

/** One over the root mean square of each input. */
function scalesOf(lessons: readonly Lesson[], d: number): Float64Array {
  const sums = new Float64Array(d);
  let count = 0;
  for (const { inputs, chain } of lessons) {
    for (let c = 0; c < chain.candidates; c += 7) {
      for (let k = 0; k < d; k++) sums[k] = (sums[k] as number) + (inputs[c * d + k] as number) ** 2;
      count++;
    }
  }
  return sums.map((sum) => 1 / Math.max(0.03, Math.sqrt(sum / Math.max(1, count))));
}

function unscaled(w: Float64Array, scale: Float64Array, d: number, h: number): Scorer {
  const linear = w.slice(0, d).map((x, k) => x * (scale[k] as number));
  const units = w.slice(d);
  for (let u = 0; u < h; u++) {
    const at = u * (d + 2);
    for (let k = 0; k < d; k++) units[at + k] = (units[at + k] as number) * (scale[k] as number);
  }
  return { linear, units };
}
