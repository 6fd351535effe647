import { expect, test } from 'vitest';
import { bestCover, posterior, type Scored } from '../../../src/findings/cut/cover.ts';
import { type Lane, laneOf, MOVES } from '../../../src/findings/cut/lane.ts';
import { random } from '../traffic.ts';

const SWITCH = -4;

/** Every cover by hand: walks from byte 0 on in one lane, changing lanes at byte edges where that is allowed. */
function allCovers(
  lanes: [Lane, Lane],
  candidates: [Scored[], Scored[]],
  prior: [number, number],
  switchCost = SWITCH,
) {
  const count = lanes[0].bits.length;
  const covers: { score: number; fields: { lane: number; index: number }[] }[] = [];
  const enter = (lane: number, { from, to }: Scored) => (lane === 0 ? from : count - 1 - to);
  const still = (lane: 0 | 1, p: number) => lanes[lane].state[lane === 0 ? p : count - 1 - p] !== MOVES;
  const walk = (p: number, lane: 0 | 1, score: number, fields: { lane: number; index: number }[]) => {
    if (p === count) {
      covers.push({ score, fields });
      return;
    }
    const leave = (from: 0 | 1, base: number) => {
      if (still(from, p)) walk(p + 1, from, base, fields);
      candidates[from].forEach((one, index) => {
        if (enter(from, one) !== p) return;
        walk(p + one.to - one.from + 1, from, base + one.score, [...fields, { lane: from, index }]);
      });
    };
    leave(lane, score);
    if (p > 0 && p % 8 === 0) leave(lane === 0 ? 1 : 0, score + switchCost);
  };
  walk(0, 0, prior[0], []);
  walk(0, 1, prior[1], []);
  return covers;
}

function smallProblem(seed: number) {
  const dice = random(seed);
  const moving = Uint8Array.of(0b0110_0100, 0b1001_0010, 0b0001_1000);
  const taken = new Uint8Array(24);
  if (seed % 3 === 0) taken[12] = 1;
  const lanes: [Lane, Lane] = [laneOf('little', 3, moving, taken), laneOf('big', 3, moving, taken)];
  const candidates = lanes.map((lane) => {
    const list: Scored[] = [];
    for (let from = 0; from < 24; from++) {
      if (lane.state[from] !== MOVES) continue;
      for (let to = from; to < 24 && lane.state[to] !== 2; to++) {
        if (lane.state[to] === MOVES) list.push({ from, to, score: 6 * dice() - 4 });
      }
    }
    return list;
  }) as [Scored[], Scored[]];
  return { lanes, candidates, prior: [dice(), dice()] as [number, number] };
}

test('the probability of every field is its share of all covers, counted one by one', () => {
  for (let seed = 1; seed <= 12; seed++) {
    const { lanes, candidates, prior } = smallProblem(seed);
    const covers = allCovers(lanes, candidates, prior);
    const total = covers.reduce((sum, c) => sum + Math.exp(c.score), 0);
    const result = posterior(lanes, candidates, prior);
    for (const lane of [0, 1] as const) {
      candidates[lane].forEach((_, index) => {
        const with_ = covers
          .filter((c) => c.fields.some((f) => f.lane === lane && f.index === index))
          .reduce((sum, c) => sum + Math.exp(c.score), 0);
        expect(result.probability[lane][index], `seed ${seed}`).toBeCloseTo(with_ / total, 10);
      });
    }
  }
});

test('the best cover is the best of all covers, counted one by one', () => {
  for (let seed = 1; seed <= 12; seed++) {
    const { lanes, candidates } = smallProblem(seed);
    const best = Math.max(...allCovers(lanes, candidates, [0, 0], -0.5).map((c) => c.score));
    const chosen = bestCover(lanes, candidates, -0.5);
    const score = chosen.reduce(
      (sum, { lane, index }) => sum + (candidates[lane][index]?.score as number),
      0,
    );
    // What switching cost is the only thing that the chosen fields do not say.
    expect((score - best) / 0.5).toBeCloseTo(Math.round((score - best) / 0.5), 9);
    expect(score).toBeGreaterThanOrEqual(best - 1e-9);
    const covered = new Set<number>();
    for (const { lane, index } of chosen) {
      const { from, to } = candidates[lane][index] as Scored;
      for (let k = from; k <= to; k++) {
        const bit = lanes[lane].bits[k] as number;
        expect(covered.has(bit)).toBe(false);
        covered.add(bit);
      }
    }
    for (let k = 0; k < 24; k++) {
      if (lanes[0].state[k] === MOVES) expect(covered.has(lanes[0].bits[k] as number)).toBe(true);
    }
  }
});

test('evidence for big-endian is what all covers that start so weigh against the others', () => {
  const { lanes, candidates } = smallProblem(5);
  const weigh = (prior: [number, number]) =>
    allCovers(lanes, candidates, prior).reduce((sum, c) => sum + Math.exp(c.score), 0);
  const expected = Math.log(weigh([-1e9, 0])) - Math.log(weigh([0, -1e9]));
  expect(posterior(lanes, candidates, [0, 0]).bigEndianLogOdds).toBeCloseTo(expected, 9);
});
