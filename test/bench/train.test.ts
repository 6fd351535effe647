import { expect, test } from 'vitest';
import { type Chain, chainOf, probabilities } from '../../bench/train/chain.ts';
import { Dice } from '../../bench/train/dice.ts';
import { type Lesson, learn } from '../../bench/train/learn.ts';
import { madeBus } from '../../bench/train/messages.ts';
import { posterior } from '../../src/findings/cut/cover.ts';
import { FEATURES } from '../../src/findings/cut/names.ts';
import { draftSegmentation } from '../../src/findings/segment.ts';

const drafts = madeBus(new Dice(12), 0, 3).map(({ rows, taken }) => {
  const few = Math.min(120, rows.count);
  return draftSegmentation({ ...rows, count: few }, taken);
});
const lessons = drafts.map(({ lanes, candidates, features }): Lesson => {
  const inputs = new Float32Array(features.flat().length * FEATURES.length);
  for (const [c, f] of features.flat().entries()) inputs.set(f, c * FEATURES.length);
  // As if every single bit were a field: enough to learn towards.
  return { chain: chainOf(lanes, candidates, (_, { from, to }) => from === to), inputs };
});

test('the training walks the same covers as the cut', () => {
  const dice = new Dice(3);
  drafts.forEach(({ lanes, candidates }, m) => {
    const { chain } = lessons[m] as { chain: Chain };
    const scores = Float64Array.from({ length: chain.candidates }, () => dice.normal());
    const own = new Float64Array(chain.candidates);
    probabilities(chain, scores, 'all', own);
    let c = 0;
    const scored = candidates.map((list) =>
      list.map(({ from, to }) => ({ from, to, score: scores[c++] as number })),
    );
    const { probability } = posterior(lanes, [scored[0] ?? [], scored[1] ?? []], [0, 0]);
    [...probability[0], ...probability[1]].forEach((p, k) => {
      expect(own[k]).toBeCloseTo(p, 9);
    });
  });
});

test('learning lowers the loss, and the same seed gives the same weights', () => {
  const losses: number[] = [];
  const learned = () =>
    learn(lessons, [], {
      inputs: FEATURES.length,
      units: 2,
      rounds: 60,
      seed: 5,
      onRound: (_, loss) => losses.push(loss),
    });
  const [one, again] = [learned(), learned()];
  expect(one).toEqual(again);
  expect(losses[59]).toBeLessThan(0.8 * (losses[0] as number));
});
