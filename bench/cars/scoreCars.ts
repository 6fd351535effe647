/**
 * How well findings agree with made-up cars: exact match of the bits of a field that move (behind a selector: that move
 * while it has that value), byte order of the right fields in more than one byte, sign where zero is crossed, selectors.
 */
import { fieldBits, fieldReader, readBits } from '../../src/can/bits.ts';
import { groupByMessage } from '../../src/capture/select.ts';
import type { Capture } from '../../src/capture/store.ts';
import type { Findings, FoundMessage, FoundSignal } from '../../src/findings/model.ts';
import type { CarMessage, CarSignal, MadeCar } from './car.ts';

export interface CarScore {
  trueFields: number;
  foundFields: number;
  right: number;
  multiByte: number;
  rightOrder: number;
  /** Sign of right numbers whose true sign bit moves, or that have none: true and false positives, misses. */
  sign: { hits: number; falses: number; misses: number };
  /** Right numbers with a sign bit of its own, and those said to be so. */
  magnitudes: number;
  rightMagnitudes: number;
  /** Messages with a selector, those found with its exact moving bits, and selectors where there is none. */
  selectors: number;
  rightSelectors: number;
  falseSelectors: number;
  claims: { probability: number; right: boolean }[];
  /** One line for each field that is missed or wrong. */
  errors: string[];
}

export function emptyScore(): CarScore {
  return {
    trueFields: 0,
    foundFields: 0,
    right: 0,
    multiByte: 0,
    rightOrder: 0,
    sign: { hits: 0, falses: 0, misses: 0 },
    magnitudes: 0,
    rightMagnitudes: 0,
    selectors: 0,
    rightSelectors: 0,
    falseSelectors: 0,
    claims: [],
    errors: [],
  };
}

export function f1(score: CarScore): number {
  return (2 * score.right) / Math.max(1, score.trueFields + score.foundFields);
}

/** 2 hits / (2 hits + falses + misses). */
export function signF(score: CarScore): number {
  const { hits, falses, misses } = score.sign;
  return (2 * hits) / Math.max(1, 2 * hits + falses + misses);
}

export function addCar(score: CarScore, car: MadeCar, findings: Findings): void {
  const groups = groupByMessage(car.capture);
  for (const truth of car.messages) {
    const found = findings.messages.find((m) => m.id === truth.id);
    const frames = groups.find((g) => g.id === truth.id)?.frames;
    if (found && frames && frames.length >= 20) addMessage(score, car.capture, frames, truth, found);
  }
}

interface Field {
  signal: CarSignal | FoundSignal;
  key: string;
}

function addMessage(
  score: CarScore,
  capture: Capture,
  frames: Uint32Array,
  truth: CarMessage,
  found: FoundMessage,
): void {
  const moving = movingByPage(capture, frames, truth);
  if (truth.selector) score.selectors++;
  const selectorBits = (field: { start: number; length: number; byteOrder: 'little' | 'big' }) =>
    fieldBits(field)
      .filter((bit) => moving(null)[bit])
      .sort((a, b) => a - b)
      .join();
  if (found.selector) {
    if (truth.selector && selectorBits(found.selector) === selectorBits(truth.selector))
      score.rightSelectors++;
    else if (!truth.selector) score.falseSelectors++;
    if (!truth.selector)
      score.errors.push(`${hex(truth.id)} false selector ${JSON.stringify(found.selector)}`);
  } else if (truth.selector)
    score.errors.push(`${hex(truth.id)} selector missed ${selectorBits(truth.selector)}`);
  const listed = (signals: readonly (CarSignal | FoundSignal)[]) =>
    signals.flatMap((signal): Field[] => {
      const moves = moving(signal.selectorValue);
      const bits = fieldBits(signal).filter((bit) => moves[bit]);
      if (bits.length === 0) return [];
      const page = signal.kind === 'selector' ? null : signal.selectorValue;
      return [{ signal, key: `${page ?? ''}:${bits.sort((a, b) => a - b).join()}` }];
    });
  const trueFields = new Map(listed(truth.signals).map((field) => [field.key, field.signal as CarSignal]));
  const claimed: (CarSignal | FoundSignal)[] = found.signals.filter(
    (s) => s.kind !== 'constant' && s.kind !== 'padding',
  );
  for (const [field, kind] of [
    [found.selector, 'selector'],
    [found.counter, 'counter'],
    [found.check, 'check'],
  ] as const) {
    if (field)
      claimed.push({ ...(field as unknown as FoundSignal), kind, signed: false, selectorValue: null });
  }
  score.trueFields += trueFields.size;
  const hit = new Set<string>();
  for (const { signal, key } of listed(claimed)) {
    score.foundFields++;
    const same = trueFields.get(key);
    const { probability } = signal as FoundSignal;
    score.claims.push({ probability, right: same !== undefined });
    if (!same) {
      score.errors.push(`${hex(truth.id)} wrong ${wordsOf(signal)} p ${probability.toFixed(2)}`);
      continue;
    }
    hit.add(key);
    score.right++;
    if (
      new Set(
        key
          .split(':')[1]
          ?.split(',')
          .map((bit) => Number(bit) >> 3),
      ).size > 1
    ) {
      score.multiByte++;
      if (signal.byteOrder === same.byteOrder) score.rightOrder++;
      else score.errors.push(`${hex(truth.id)} order ${wordsOf(same)}`);
    }
    if (same.kind === 'number') addSign(score, capture, frames, truth, same, signal as FoundSignal);
  }
  for (const [key, signal] of trueFields) {
    if (!hit.has(key)) score.errors.push(`${hex(truth.id)} missed ${signal.name} ${wordsOf(signal)}`);
  }
}

function addSign(
  score: CarScore,
  capture: Capture,
  frames: Uint32Array,
  truth: CarMessage,
  same: CarSignal,
  found: FoundSignal,
): void {
  if (found.kind !== 'number') return;
  if (same.signed !== false) {
    const read = fieldReader(same);
    let below = false;
    let above = false;
    for (const f of frames) {
      const from = capture.offset[f] as number;
      if (same.selectorValue !== null && pageOf(capture, f, truth) !== same.selectorValue) continue;
      const value = read(capture.payload, from);
      if (value < 0) below = true;
      else if (value > 0) above = true;
    }
    if (!below || !above) return;
  }
  if (same.signed === 'magnitude') {
    score.magnitudes++;
    if (found.signed === 'magnitude') score.rightMagnitudes++;
  }
  if (found.signed === same.signed) {
    if (same.signed !== false) score.sign.hits++;
    return;
  }
  if (same.signed !== false) score.sign.misses++;
  if (found.signed !== false) score.sign.falses++;
  score.errors.push(
    `${hex(truth.id)} sign of ${same.name} ${wordsOf(same)}: ${same.signed}, found ${found.signed}`,
  );
}

function pageOf(capture: Capture, frame: number, { selector }: CarMessage): number | null {
  return selector ? readBits(capture.payload, capture.offset[frame] as number, selector) : null;
}

/** 1 for bits that move, over all frames (null) or over those with a selector value. */
function movingByPage(capture: Capture, frames: Uint32Array, truth: CarMessage) {
  const known = new Map<number | null, Uint8Array>();
  return (page: number | null): Uint8Array => {
    const before = known.get(page);
    if (before) return before;
    const moves = new Uint8Array(8 * truth.length);
    let first = -1;
    for (const f of frames) {
      if (page !== null && pageOf(capture, f, truth) !== page) continue;
      const at = capture.offset[f] as number;
      if (first < 0) first = at;
      for (let b = 0; b < truth.length; b++) {
        const changed = (capture.payload[at + b] as number) ^ (capture.payload[first + b] as number);
        for (let k = 0; k < 8; k++) if ((changed >> k) & 1) moves[8 * b + k] = 1;
      }
    }
    known.set(page, moves);
    return moves;
  };
}

function wordsOf({ start, length, byteOrder, kind, signed, selectorValue }: CarSignal | FoundSignal): string {
  return `${start}:${length} ${byteOrder} ${kind} ${signed}${selectorValue === null ? '' : ` page ${selectorValue}`}`;
}

function hex(id: number): string {
  return id.toString(16).toUpperCase();
}
