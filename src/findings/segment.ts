/**
 * Cuts the bits of a payload that nothing else explains into constants, flags, enumerations and numbers, in either byte
 * order, by description length: what it costs to tell the bits under every possible cut. Messages of one bus share the
 * byte order and how its fields keep to byte edges, so they are settled together.
 */
import { fieldBits } from '../can/bits.ts';
import { bitCount } from './crcSolve.ts';
import { type Candidate, candidatesOf } from './cut/candidates.ts';
import { bestCover, type Posterior, posterior, type Scored } from './cut/cover.ts';
import { constantsOf, signalOf } from './cut/describe.ts';
import { type Features, featuresOf } from './cut/features.ts';
import { type Lane, laneOf, MOVES, STILL } from './cut/lane.ts';
import { bitMotion } from './cut/pairs.ts';
import { sampleOf } from './cut/sample.ts';
import { firstScore, secondScore } from './cut/score.ts';
import { SUREST } from './cut/stated.ts';
import { interleavedContents } from './interleaved.ts';
import type { FoundSignal } from './model.ts';
import { type MessageRows, movingBits } from './rows.ts';

/** One message with everything about it that does not depend on the other messages of its bus. */
export interface Draft {
  rows: MessageRows;
  frames: number;
  lanes: [Lane, Lane];
  candidates: [Candidate[], Candidate[]];
  features: [Features[], Features[]];
  first: Posterior;
}

/** Frames that must be there before a payload is cut. */
export const FRAMES_TO_CUT = 8;

/** `draftSteps` in one go. */
export function draftSegmentation(rows: MessageRows, taken: Uint8Array): Draft {
  const steps = draftSteps(rows, taken);
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
  }
}

/**
 * The long part: code lengths of all candidates. `taken`: 1 for bits that are explained otherwise, Uint8[8 × length].
 * Yields the share that is done, every few tenths of a second.
 */
export function* draftSteps(rows: MessageRows, taken: Uint8Array): Generator<number, Draft> {
  const moving = movingBits(rows);
  const lanes: [Lane, Lane] = [
    laneOf('little', rows.length, moving, taken),
    laneOf('big', rows.length, moving, taken),
  ];
  const sample = sampleOf(
    rows,
    lanes[0].state.reduce((n, state) => n + (state === MOVES ? 1 : 0), 0),
  );
  const inByte = new Map<number, Candidate>();
  const candidates: [Candidate[], Candidate[]] = [
    yield* halved(0, candidatesOf(rows, sample, lanes[0], inByte)),
    yield* halved(0.5, candidatesOf(rows, sample, lanes[1], inByte)),
  ];
  const motion = bitMotion(rows, sample);
  const frames = sample.frames.length;
  const features: [Features[], Features[]] = [
    featuresOf(lanes[0], candidates[0], motion, frames),
    featuresOf(lanes[1], candidates[1], motion, frames),
  ];
  const scored = scoredBy(candidates, features, firstScore);
  return { rows, frames, lanes, candidates, features, first: posterior(lanes, scored, [0, 0]) };
}

/** The same work as one of two halves. */
function* halved<T>(from: number, work: Generator<number, T>): Generator<number, T> {
  for (;;) {
    const step = work.next();
    if (step.done) return step.value;
    yield from + step.value / 2;
  }
}

/** What the messages of a bus have in common, from the first pass over all of them. */
export interface BusStyle {
  /** Share of fields that start at a byte edge. */
  edgeShare: number;
  /** Evidence of each message for big-endian, in nats. */
  bigEndian: number[];
}

export function busStyle(drafts: readonly Draft[]): BusStyle {
  const edgeShare = edgeShareOf(
    drafts,
    drafts.map(({ first }) => first.probability),
  );
  return { edgeShare, bigEndian: drafts.map((draft) => secondLogOdds(draft, edgeShare)) };
}

/** Share of fields that start at a byte edge, from the probabilities of the candidates of each message by lane. */
export function edgeShareOf(
  drafts: readonly Pick<Draft, 'lanes' | 'candidates'>[],
  probability: readonly (readonly [Float64Array, Float64Array])[],
): number {
  let onEdge = 1.5;
  let all = 3;
  drafts.forEach((draft, m) => {
    for (const lane of [0, 1] as const) {
      draft.candidates[lane].forEach((candidate, k) => {
        if (candidate.active < 3 || candidate.block || !tellsAboutEdges(draft.lanes[lane], candidate)) return;
        const p = probability[m]?.[lane][k] as number;
        all += p;
        if (candidate.from % 8 === 0) onEdge += p;
      });
    }
  });
  return onEdge / all;
}

/** A field that starts in the middle of a byte tells only where it follows another field directly. */
function tellsAboutEdges(lane: Lane, candidate: Candidate): boolean {
  const place = candidate.from % 8;
  if (place === 0) return true;
  return lane.state[candidate.from - 1] !== STILL && place !== 4;
}

function secondLogOdds(draft: Draft, edgeShare: number): number {
  const scored = scoredBy(draft.candidates, draft.features, (f) => secondScore(f, edgeShare));
  return clip(posterior(draft.lanes, scored, [0, 0]).bigEndianLogOdds, ORDER_CLIP);
}

/** No message says more than this about the order, and all others together not more than that. */
const ORDER_CLIP = 3;
const POOLED_CLIP = 4;
/** Buses with 29-bit identifiers that follow J1939 or NMEA 2000 are little-endian (J1939-71); others may be either. */
const EXTENDED_LITTLE = 1.5;
/** Fields must be this likely for the decoder to take them rather than leave bits alone. */
const LEAST_LIKELY = 0.3;

/** A field of the cut before anything is said of it. */
export interface CoveredField {
  lane: Lane;
  candidate: Candidate;
  /** Posterior of the field. */
  probability: number;
  /** Evidence of the other messages of the bus for big-endian, in nats. */
  busBigEndian: number;
}

/**
 * All fields of one message by start, constants included, explained bits not. `index`: its place among the drafts of the
 * style; `stays`: how likely bits that stood still are to stand still for good.
 */
export function cutMessage(draft: Draft, style: BusStyle, index: number, stays: number): FoundSignal[] {
  const { rows, lanes } = draft;
  const fields = coverOf(draft, style, index).map((field) => signalOf(rows, field));
  const all = [...fields, ...constantsOf(rows, lanes[0], fields, stays)];
  return all.sort((x, y) => lowestBit(x) - lowestBit(y));
}

/** The cover of the bits that move with the most right fields to be expected. */
export function coverOf(draft: Draft, style: BusStyle, index: number): CoveredField[] {
  const { lanes, candidates, features } = draft;
  const custom = draft.rows.extended ? -EXTENDED_LITTLE : 0;
  const others = style.bigEndian.reduce((sum, lod, k) => (k === index ? sum : sum + lod), custom);
  const busBigEndian = clip(others, POOLED_CLIP);
  const lean = busBigEndian / 2;
  const scored = scoredBy(candidates, features, (f) => secondScore(f, style.edgeShare));
  const unsettled = interleavedContents(draft.rows) > 0;
  if (unsettled) keepToBytes(scored);
  const probability = joined(draft, posterior(lanes, scored, [-lean, lean]).probability);
  const worth = [0, 1].map((lane) =>
    (scored[lane] as Scored[]).map((one, k) => ({
      ...one,
      score: (probability[lane]?.[k] as number) - LEAST_LIKELY,
    })),
  ) as [Scored[], Scored[]];
  return bestCover(lanes, worth, DECODER_SWITCH).map(({ lane, index: k }) => ({
    lane: lanes[lane],
    candidate: candidates[lane][k] as Candidate,
    probability: Math.min(unsettled ? UNSETTLED : 1, probability[lane][k] as number),
    busBigEndian,
  }));
}

/** Where all bits that differ flip together, byte edges are the best guess, and no more than that. */
const UNSETTLED = 0.5;

function keepToBytes(scored: readonly Scored[][]): void {
  for (const one of scored.flat()) {
    if (one.from >> 3 !== one.to >> 3) one.score = Number.NEGATIVE_INFINITY;
  }
}

/** AUTOSAR numbers of the bits that move between two positions of a lane, both included. */
export function bitsOf({ lane, from, to }: { lane: Lane; from: number; to: number }): number[] {
  const bits: number[] = [];
  for (let k = from; k <= to; k++) if (lane.state[k] === MOVES) bits.push(lane.bits[k] as number);
  return bits;
}

/** Just enough that the decoder does not change lanes for nothing. */
const DECODER_SWITCH = -1e-9;

/** Fields inside one byte, and blocks, stand in both lanes; their probability is the sum. */
function joined(draft: Draft, probability: [Float64Array, Float64Array]): [Float64Array, Float64Array] {
  const { lanes, candidates } = draft;
  const key = (lane: 0 | 1, c: Candidate) => {
    const [from, to] = [lanes[lane].bits[c.from] as number, lanes[lane].bits[c.to] as number];
    // A block covers the same bytes in both lanes; its first byte tells it from the others.
    return c.block ? -1 - (Math.min(from, to) >> 3) : 1024 * from + to;
  };
  const alike = (c: Candidate) => c.block !== undefined || c.from >> 3 === c.to >> 3;
  const twin = new Map<number, number>();
  candidates[1].forEach((c, k) => {
    if (alike(c)) twin.set(key(1, c), k);
  });
  const sums: [Float64Array, Float64Array] = [probability[0].slice(), probability[1].slice()];
  candidates[0].forEach((c, k) => {
    const other = alike(c) ? twin.get(key(0, c)) : undefined;
    if (other === undefined) return;
    const sum = (probability[0][k] as number) + (probability[1][other] as number);
    sums[0][k] = sum;
    sums[1][other] = sum;
  });
  return sums;
}

function lowestBit(field: FoundSignal): number {
  return Math.min(...fieldBits(field));
}

function scoredBy(
  candidates: readonly [readonly Candidate[], readonly Candidate[]],
  features: readonly [readonly Features[], readonly Features[]],
  score: (features: Features) => number,
): [Scored[], Scored[]] {
  return [0, 1].map((lane) =>
    (candidates[lane] as readonly Candidate[]).map(({ from, to }, k) => ({
      from,
      to,
      score: score((features[lane] as readonly Features[])[k] as Features),
    })),
  ) as [Scored[], Scored[]];
}

function clip(x: number, limit: number): number {
  return Math.min(limit, Math.max(-limit, x));
}

/**
 * How likely bits that stood still are to stand still for good: of the bits that stood still in the first half of each
 * message's frames, the share that did so in the second (rule of succession), at most `SUREST`.
 */
export function stayingStill(messages: readonly MessageRows[]): number {
  let still = 0;
  let stayed = 0;
  for (const rows of messages) {
    if (rows.count < FRAMES_TO_CUT) continue;
    const half = rows.count >> 1;
    const first = movingBits({ ...rows, count: half });
    const all = movingBits(rows);
    for (let b = 0; b < rows.length; b++) {
      still += 8 - bitCount(first[b] as number);
      stayed += 8 - bitCount(all[b] as number);
    }
  }
  return Math.min(SUREST, (stayed + 1) / (still + 2));
}
