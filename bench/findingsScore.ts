/**
 * How well a cut agrees with public field layouts: a found field is right when its set of bits that move is exactly that
 * of a true field (the metric of ../shared/data/README.md). Only messages of single frames, only bits that are defined.
 */
import { fieldBits } from '../src/can/bits.ts';
import type { Findings, FoundMessage } from '../src/findings/model.ts';

export interface Truth {
  definitions: Record<string, { frame?: string; fields: { start: number; len: number }[] }>;
}

export interface Score {
  messages: number;
  /** True fields of which a bit moves; found fields; those that are right. */
  trueFields: number;
  foundFields: number;
  right: number;
  f1: number;
  /** Of the right fields in more than one byte, those in the right (little-endian) order. */
  multiByte: number;
  rightOrder: number;
  /** Stated probability, and whether it was right, of every found field. */
  claims: { probability: number; right: boolean }[];
}

const FRAMES_NEEDED = 20;

export function scoreCut(findings: Findings, truth: Truth): Score {
  const score: Score = {
    messages: 0,
    trueFields: 0,
    foundFields: 0,
    right: 0,
    f1: 0,
    multiByte: 0,
    rightOrder: 0,
    claims: [],
  };
  for (const message of findings.messages) {
    const fields = message.extended ? singleFrameFields(truth, message.id) : null;
    if (fields && message.frames >= FRAMES_NEEDED) addMessage(score, message, fields);
  }
  score.f1 = (2 * score.right) / Math.max(1, score.trueFields + score.foundFields);
  return score;
}

/** Published fields of the message with this 29-bit identifier; null where there are none or it spans several frames. */
export function singleFrameFields(truth: Truth, id: number): { start: number; len: number }[] | null {
  const definition = truth.definitions[parameterGroup(id)];
  return definition && definition.frame !== 'Fast' ? definition.fields : null;
}

function addMessage(score: Score, message: FoundMessage, fields: { start: number; len: number }[]): void {
  const moves = (bit: number) => (message.flipRate[bit] ?? 0) > 0;
  const defined = new Set<number>();
  const trueSets = new Set<string>();
  for (const { start, len } of fields) {
    const bits = Array.from({ length: len }, (_, k) => start + k).filter((bit) => bit < 8 * message.length);
    for (const bit of bits) defined.add(bit);
    const moving = bits.filter(moves);
    if (moving.length > 0) trueSets.add(moving.join());
  }
  if (trueSets.size === 0) return;
  score.messages++;
  score.trueFields += trueSets.size;
  const found = [
    ...message.signals.filter((s) => s.kind !== 'constant'),
    ...(message.counter ? [message.counter] : []),
    ...(message.check ? [message.check] : []),
  ];
  for (const field of found) {
    const bits = fieldBits(field)
      .filter((bit) => moves(bit) && defined.has(bit))
      .sort((a, b) => a - b);
    if (bits.length === 0) continue;
    const right = trueSets.has(bits.join());
    score.foundFields++;
    score.claims.push({ probability: field.probability, right });
    if (!right) continue;
    score.right++;
    if (new Set(bits.map((bit) => bit >> 3)).size < 2) continue;
    score.multiByte++;
    if (field.byteOrder === 'little') score.rightOrder++;
  }
}

/** Parameter group of a 29-bit identifier (../shared/data/FORMAT.md). */
function parameterGroup(id: number): number {
  const group = (id >>> 8) & 0x3_ffff;
  return ((group >> 8) & 0xff) < 240 ? group & 0x3_ff00 : group;
}
