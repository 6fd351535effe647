/**
 * What speaks for and against a candidate being one field: its code lengths, what it saves against the cheapest split,
 * how its neighbouring bits move together, and where it stands in its bytes. Its score is made of these (score.ts).
 */
import type { BlockFacts } from './block.ts';
import { type Candidate, numberCost } from './candidates.ts';
import { type Lane, MOVES, STILL } from './lane.ts';
import { FEATURE_AT, FEATURES, type FeatureName } from './names.ts';
import { clip, PAIR_NAMES, type Pair, pairSums } from './pairFeatures.ts';
import type { BitMotion } from './pairs.ts';

/** Single precision: a bus has hundreds of thousands of them. */
export type Features = Float32Array;

export function featuresOf(
  lane: Lane,
  candidates: readonly Candidate[],
  motion: BitMotion,
  frames: number,
): Features[] {
  const edges = neighbours(lane);
  const pairs = pairSums(lane, motion);
  const gains = splitGains(lane, candidates);
  const noisy = noisyBits(lane, motion);
  return candidates.map((candidate, k) => {
    const features = new Float32Array(FEATURES.length);
    const put = (name: FeatureName, value: number | boolean) => {
      features[FEATURE_AT[name]] = Number(value);
    };
    if (candidate.block) {
      blockFeatures(put, candidate, candidate.block, gains[k] as number);
      return features;
    }
    placeFeatures(put, candidate, edges);
    costFeatures(put, candidate, gains[k] as number, frames);
    outsideFeatures(put, candidate, edges, pairs.below);
    put('noiseBelow', noisy[edges.below[candidate.from] as number] ?? 0);
    put('noiseAbove', noisy[edges.above[candidate.to] as number] ?? 0);
    put('framesLog', Math.log2(frames / 500) * (candidate.active >= 2 ? 0.1 : 0));
    for (let p = 0; p < PAIR_NAMES.length; p++) {
      const row = pairs.sums[p] as Float64Array;
      features[FEATURE_AT[PAIR_NAMES[p] as FeatureName]] =
        (row[candidate.to] as number) - (row[candidate.from] as number);
    }
    return features;
  });
}

/** 1 for positions that flip at about every other step, as bits of noise do. */
function noisyBits(lane: Lane, motion: BitMotion): Float64Array {
  return Float64Array.from(lane.bits, (bit, k) => {
    const rate = (motion.flips[bit] as number) / Math.max(1, motion.steps);
    return lane.state[k] === MOVES && rate > 0.44 && rate < 0.56 ? 1 : 0;
  });
}

/** How the lowest bit goes with the next one below it, outside the candidate, and the highest with the one above. */
function outsideFeatures(
  put: Put,
  { from, to }: Candidate,
  edges: { below: Int32Array; above: Int32Array },
  below: readonly (Pair | undefined)[],
): void {
  const above = edges.above[to] as number;
  for (const [side, pair, next] of [
    ['below', below[from], from - (edges.below[from] as number) === 1],
    ['above', below[above], above - to === 1],
  ] as const) {
    if (!pair || !next) continue;
    put(`${side}Next`, 1);
    put(`${side}Opposite`, pair.pairOpposite ?? 0);
    put(`${side}Same`, pair.pairSame ?? 0);
    put(`${side}Alone`, pair.pairAlone ?? 0);
    put(`${side}Faster`, pair.pairFaster ?? 0);
    put(`${side}Slower`, pair.pairSlower ?? 0);
  }
}

function blockFeatures(put: Put, c: Candidate, block: BlockFacts, gain: number): void {
  put('block', 1);
  put('blockBits', c.active / 32);
  put('blockPayloads', Math.log2(block.contents) / 5);
  put('blockText', block.printable);
  put('blockGain', clip(slog(gain) / 4, -4, 4));
  put('blockOld', block.old);
}

type Put = (name: FeatureName, value: number | boolean) => void;

/** Nearest position below and above each that does not stand still; −1 and the count where there is none. */
function neighbours(lane: Lane): { below: Int32Array; above: Int32Array } {
  const count = lane.bits.length;
  const below = new Int32Array(count);
  const above = new Int32Array(count);
  for (let k = 0, last = -1; k < count; k++) {
    below[k] = last;
    if (lane.state[k] !== STILL) last = k;
  }
  for (let k = count - 1, last = count; k >= 0; k--) {
    above[k] = last;
    if (lane.state[k] !== STILL) last = k;
  }
  return { below, above };
}

function placeFeatures(put: Put, c: Candidate, edges: { below: Int32Array; above: Int32Array }): void {
  const { from, to, active } = c;
  const below = edges.below[from] as number;
  const above = edges.above[to] as number;
  const crossed = (to >> 3) - (from >> 3);
  const cross = crossed > 0;
  const starts = from - (from % 8) > below;
  const ends = 8 * (to >> 3) + 7 < above;
  const width = to - from + 1;
  put('bias', 1);
  put(sizeName(active), 1);
  put('startEdge', starts);
  put('endEdge', ends);
  put('bothEdges', starts && ends);
  put('crossStartEdge', cross && starts);
  put('crossEndEdge', cross && ends);
  put('crossNoEdge', cross && !starts && !ends);
  put('crossBothEdges', cross && starts && ends);
  put('wholeByte', !cross && starts && ends);
  put('startNibble', from - (from % 4) > below);
  put('endNibble', 4 * (to >> 2) + 3 < above);
  put('loneInByte', active === 1 && starts && ends);
  put('threeBytes', crossed >= 2);
  put('fourBytes', crossed >= 3);
  put('gapShare', Math.min(width - active, 8) / 8);
  put('anyGap', width > active);
  put('wideGap', width - active >= 4);
}

function sizeName(active: number): FeatureName {
  if (active <= 4) return `bits${active}` as FeatureName;
  if (active <= 6) return 'bits5to6';
  if (active <= 8) return 'bits7to8';
  if (active <= 12) return 'bits9to12';
  if (active <= 16) return 'bits13to16';
  return active <= 24 ? 'bits17to24' : 'bits25to32';
}

function costFeatures(put: Put, c: Candidate, gain: number, frames: number): void {
  const { codes, cost, active, code } = c;
  const width = c.to - c.from + 1;
  const multi = active >= 2 ? 1 : 0;
  const cross = c.to >> 3 !== c.from >> 3;
  const n = frames;
  const number = numberCost(codes);
  const withLevels = Math.min(number, codes.levels);
  const isNumber = withLevels < codes.enumeration - 1;
  const gapped = width > active;
  put('gapNoNumber', gapped && !isNumber);
  put('costHundreds', Math.min(cost / 100, 50) / 10);
  put('costPerFrame', cost / n);
  put('costLog', slog(cost));

  const g = slog(gain);
  const split = Math.max(g, 0);
  const join = Math.max(-g, 0);
  put('splitBetter', split);
  put('joinBetter', join);
  put('splitBetterNumber', isNumber ? split : 0);
  put('joinBetterNumber', isNumber ? join : 0);
  put('splitBetterCross', cross ? split : 0);
  put('joinBetterCross', cross ? join : 0);
  put('joinBetterGap', gapped ? join : 0);
  put('splitPerFrame', clip(gain / n, -3, 3));
  put('splitHundreds', clip(gain / 200, -5, 5));

  put('typeEnum', code === 'enumeration' ? multi : 0);
  put('typeNumber', code === 'number' ? multi : 0);
  put('typeModular', code === 'modular' ? multi : 0);
  put('typeUniform', code === 'uniform' ? multi : 0);
  put('typeCounter', code === 'counter' ? multi : 0);
  put('typeLevels', code === 'levels' ? multi : 0);
  put('numberGain', clip(slog(capped(codes.enumeration) - capped(withLevels)), -8, 12) * multi);
  put('modularGain', clip(slog(capped(number) - capped(codes.modular)), -8, 8) * multi);

  const noise = multi === 1 && cost > 0.96 * codes.uniform && n >= 40;
  const counter = code === 'counter';
  put('noise', noise);
  // Set only after wholeByte: eight noisy bits that fill a byte.
  put('noiseByte', noise && active === 8 && c.from % 8 === 0 && c.to === c.from + 7);
  put('counterOfFour', counter && width === 4);
  put('counterCross', counter && cross);
  put('ramp', counter ? active / 8 : 0);
  put('line', codes.line < 0.35 * n && codes.changes > n / 2 && active >= 3 ? active / 8 : 0);

  put('twoValues', codes.distinct === 2 ? multi : 0);
  put('filled', codes.distinct <= 48 ? Math.log2(codes.distinct) / active : 0);
  put('fewValues', codes.distinct <= active + 1 && active >= 3);
  const both = Math.min(codes.wraps, codes.middles);
  put('wrapsAndMiddles', (both / Math.max(1, codes.changes)) * multi);
  put('wrapsAndMiddlesOften', both > 3 ? multi : 0);
  put('wrapsToMiddles', (both / Math.max(1, codes.wraps, codes.middles)) * multi);
  put('rare', codes.changes <= 2);
  put('rareWide', codes.changes <= 3 ? multi : 0);
  put('changesLog', Math.log2(1 + codes.changes) / 10);
  put('signed', codes.signed < codes.unsigned - 1 ? multi : 0);
  const plainSign = Math.min(codes.unsigned, codes.signed);
  put(
    'magnitude',
    codes.magnitude < plainSign - 1 ? multi * clip(slog(plainSign - codes.magnitude), 0, 8) : 0,
  );
}

/**
 * What a candidate costs more than the cheapest cover of its stretch by two or more candidates, each plus four nats for
 * being one more field. Negative: one field is cheaper. 0 for a single bit.
 */
function splitGains(lane: Lane, candidates: readonly Candidate[]): Float64Array {
  const place = new Int32Array(lane.bits.length).fill(-1);
  let count = 0;
  for (let k = 0; k < lane.bits.length; k++) if (lane.state[k] === MOVES) place[k] = count++;
  const best = new Float64Array(count * count).fill(Number.POSITIVE_INFINITY);
  const gains = new Float64Array(candidates.length);
  const order = candidates
    .map((_, k) => k)
    .sort((a, b) => {
      return (candidates[a] as Candidate).active - (candidates[b] as Candidate).active;
    });
  for (const k of order) {
    const candidate = candidates[k] as Candidate;
    const i = place[candidate.from] as number;
    const j = place[candidate.to] as number;
    const whole = candidate.cost + PER_FIELD;
    let split = Number.POSITIVE_INFINITY;
    for (let m = i; m < j; m++) {
      split = Math.min(split, (best[i * count + m] as number) + (best[(m + 1) * count + j] as number));
    }
    best[i * count + j] = Math.min(whole, split);
    gains[k] = j > i ? whole - split : 0;
  }
  return gains;
}

const PER_FIELD = 4;

/** Logarithm that keeps the sign and passes through 0. */
function slog(x: number): number {
  return Math.sign(x) * Math.log2(1 + Math.abs(x) / 2);
}

function capped(cost: number): number {
  return Math.min(cost, 1e6);
}
