/**
 * Learns the weights with which payloads are cut (src/findings/cut/weights.ts) from made-up messages alone; no recording
 * is in them. The same seed gives the same file. Some minutes on one core.
 * Run: node dist/bench/train/cut.js [seed 4] [buses 130] [file to write, default src/findings/cut/weights.ts], then format the file
 */
import { writeFileSync } from 'node:fs';
import type { Candidate } from '../../src/findings/cut/candidates.ts';
import type { Features } from '../../src/findings/cut/features.ts';
import { type Lane, MOVES } from '../../src/findings/cut/lane.ts';
import { FEATURES } from '../../src/findings/cut/names.ts';
import { fillInputs, INPUTS, type Scorer } from '../../src/findings/cut/score.ts';
import { type Draft, draftSegmentation, edgeShareOf } from '../../src/findings/segment.ts';
import { type Chain, chainOf, probabilities } from './chain.ts';
import { Dice } from './dice.ts';
import { type Lesson, learn } from './learn.ts';
import { type MadeMessage, madeBus } from './messages.ts';

const MESSAGES_A_BUS = 8;
const UNITS = 12;
const seed = Number(process.argv[2] ?? 4);
const buses = Number(process.argv[3] ?? 130);
const file = process.argv[4] ?? 'src/findings/cut/weights.ts';

interface Exercise {
  bus: number;
  draft: Pick<Draft, 'lanes' | 'candidates'>;
  chain: Chain;
  /** candidates × features. */
  features: Float32Array;
}

const dice = new Dice(seed);
const exercises: Exercise[] = [];
let lost = 0;
for (let bus = 0; bus < buses; bus++) {
  for (const made of madeBus(dice, bus, MESSAGES_A_BUS)) {
    const draft = draftSegmentation(made.rows, made.taken);
    const chain = chainOf(draft.lanes, draft.candidates, truthOf(made, draft.lanes[0]));
    if (chain.candidates === 0) continue;
    const zeros = new Float64Array(chain.candidates);
    if (
      probabilities(chain, zeros, 'agreeing', new Float64Array(chain.candidates)) === Number.NEGATIVE_INFINITY
    ) {
      lost++;
      continue;
    }
    const features = new Float32Array(chain.candidates * FEATURES.length);
    for (const [c, f] of draft.features.flat().entries()) features.set(f, c * FEATURES.length);
    exercises.push({ bus, draft: { lanes: draft.lanes, candidates: draft.candidates }, chain, features });
  }
  if (bus % 10 === 9)
    console.log(`${bus + 1} buses, ${exercises.length} messages, ${lost} without a true cover`);
}

/** Every tenth bus is not learned from, so that it can be seen whether the weights hold for others. */
const isHeldBack = ({ bus }: Exercise) => bus % 10 === 9;
const split = (lesson: (one: Exercise) => Lesson): [Lesson[], Lesson[]] => [
  exercises.filter((one) => !isHeldBack(one)).map(lesson),
  exercises.filter(isHeldBack).map(lesson),
];
const first = learn(...split(({ chain, features }) => ({ chain, inputs: features })), {
  inputs: FEATURES.length,
  units: 0,
  rounds: 20,
  seed,
  onRound: report('first pass'),
});
const shares = new Map<number, number>();
for (let bus = 0; bus < buses; bus++) {
  const some = exercises.filter((one) => one.bus === bus);
  shares.set(
    bus,
    edgeShareOf(
      some.map(({ draft }) => draft),
      some.map((one) => firstProbabilities(one, first)),
    ),
  );
}
const second = learn(
  ...split(({ bus, chain, features }) => {
    const inputs = new Float32Array(chain.candidates * INPUTS);
    const row = new Float64Array(INPUTS);
    for (let c = 0; c < chain.candidates; c++) {
      const own = features.subarray(c * FEATURES.length, (c + 1) * FEATURES.length) as Features;
      fillInputs(row, own, shares.get(bus) as number);
      inputs.set(row, c * INPUTS);
    }
    return { chain, inputs };
  }),
  { inputs: INPUTS, units: UNITS, rounds: 24, seed: seed + 1, onRound: report('second pass') },
);
writeFileSync(file, printed(first, second));

function report(what: string) {
  return (round: number, loss: number, heldBack: () => number) => {
    if (round % 4 === 0)
      console.log(
        `${what}, round ${round}: ${loss.toFixed(3)} nats a message, ${heldBack().toFixed(3)} of those held back`,
      );
  };
}

/** Whether a candidate is a true field: just its bits that move, in its order where it spans bytes. */
function truthOf(made: MadeMessage, little: Lane): (lane: Lane, candidate: Candidate) => boolean {
  const moves = (bit: number) => little.state[bit] === MOVES;
  const orders = new Map<string, string>();
  for (const { bits, order, kind } of made.fields) {
    const moving = bits.filter(moves).sort((a, b) => a - b);
    const oneByte = new Set(moving.map((bit) => bit >> 3)).size === 1;
    orders.set(moving.join(), kind === 'block' || oneByte ? 'any' : order);
  }
  return (lane, { from, to }) => {
    const bits: number[] = [];
    for (let k = from; k <= to; k++) if (lane.state[k] === MOVES) bits.push(lane.bits[k] as number);
    const order = orders.get(bits.sort((a, b) => a - b).join());
    return order === 'any' || order === lane.order;
  };
}

function firstProbabilities(
  { chain, features, draft }: Exercise,
  { linear }: Scorer,
): [Float64Array, Float64Array] {
  const scores = new Float64Array(chain.candidates);
  for (let c = 0; c < chain.candidates; c++) {
    for (let k = 0; k < FEATURES.length; k++)
      scores[c] =
        (scores[c] as number) + (linear[k] as number) * (features[c * FEATURES.length + k] as number);
  }
  const out = new Float64Array(chain.candidates);
  probabilities(chain, scores, 'all', out);
  const some = draft.candidates[0].length;
  return [out.slice(0, some), out.slice(some)];
}

function printed(one: Scorer, two: Scorer): string {
  const row = (weights: ArrayLike<number>) =>
    `[${Array.from(weights, (x) => String(Number(x.toPrecision(4)))).join(', ')}]`;
  const rows = Array.from({ length: UNITS }, (_, u) =>
    row(two.units.subarray(u * (INPUTS + 2), (u + 1) * (INPUTS + 2))),
  );
  return `/**
 * Weights of the scores (score.ts), learned from made-up messages only: no recording is in them. Written by
 * bench/train/cut.ts with seed ${seed} and ${buses} buses; not to be changed by hand.
 */

/** First pass, by feature (names.ts). */
export const FIRST: readonly number[] = ${row(one.linear)};

/** Second pass, linear part: by feature, the lean of the bus, and the lean times the features of edges. */
export const SECOND: readonly number[] = ${row(two.linear)};

/** Second pass, units: weights of the same inputs, offset, weight of the unit. */
export const UNITS: readonly (readonly number[])[] = [${rows.join(',\n')}];
`;
}
