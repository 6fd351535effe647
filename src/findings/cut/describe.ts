/** A cut turned into findings: kinds, signs and the evidence for them, and the constants between the fields. */
import { fieldBits } from '../../can/bits.ts';
import type { Evidence, FieldKind, FoundSignal } from '../model.ts';
import type { MessageRows } from '../rows.ts';
import { several } from '../words.ts';
import { type Candidate, numberCost } from './candidates.ts';
import { type Lane, STILL } from './lane.ts';
import { statedProbability } from './stated.ts';

/** Nats by which a signed reading must be cheaper, or dearer, before the sign is taken as settled. */
const SIGN_NATS = 10;
/** Pooled evidence for a byte order below this settles nothing. */
const ORDER_NATS = 3;

export interface CutField {
  lane: Lane;
  candidate: Candidate;
  /** Posterior of the field. */
  probability: number;
  /** Evidence of the other messages of the bus for big-endian, in nats. */
  busBigEndian: number;
}

export function signalOf(rows: MessageRows, field: CutField): FoundSignal {
  const { lane, candidate } = field;
  const { from, to } = candidate;
  const oneByte = from >> 3 === to >> 3;
  const byteOrder = oneByte ? 'little' : lane.order;
  const gain = candidate.codes.unsigned - candidate.codes.signed;
  const kind = kindOf(candidate);
  return {
    start: lane.bits[byteOrder === 'little' ? from : to] as number,
    length: to - from + 1,
    byteOrder,
    signed: kind === 'number' && gain > SIGN_NATS,
    kind,
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
    probability: statedProbability(field.probability),
    evidence: evidenceOf(rows, field, kind, gain),
  };
}

/** Runs of bits that stand still and lie in no field. `stays`: how likely such bits are to stand still for good. */
export function constantsOf(
  rows: MessageRows,
  little: Lane,
  fields: readonly FoundSignal[],
  stays: number,
): FoundSignal[] {
  const covered = new Set(fields.flatMap((field) => fieldBits(field)));
  const found: FoundSignal[] = [];
  for (let bit = 0; bit < little.state.length; ) {
    const from = bit;
    while (bit < little.state.length && little.state[bit] === STILL && !covered.has(bit) && bit - from < 64)
      bit++;
    if (bit === from) bit++;
    else found.push(constant(rows, from, bit - from, stays));
  }
  return found;
}

function kindOf(candidate: Candidate): FieldKind {
  const { active, code, codes } = candidate;
  if (active === 1) return 'flag';
  if (code === 'counter' && active >= 3) return 'counter';
  if (active === 2) return 'enum';
  // Few levels that hop are a state; many of them, or levels that lie close together, are a number.
  const few = codes.distinct <= 16 && active <= 6;
  return few && (code === 'enumeration' || (code === 'levels' && codes.distinct <= 8)) ? 'enum' : 'number';
}

function evidenceOf(rows: MessageRows, field: CutField, kind: FieldKind, gain: number): Evidence[] {
  const { candidate, lane, busBigEndian } = field;
  const { codes, active, from, to } = candidate;
  const evidence: Evidence[] = [
    {
      text: `${several(codes.distinct, 'value')}, ${several(codes.changes, 'change')}; told most briefly as ${CODE_WORDS[candidate.code]}, in ${share(candidate.cost, codes.uniform)} of the room that its raw bits take.`,
      frames: rows.count,
    },
  ];
  if (kind === 'number' && Number.isFinite(numberCost(codes))) {
    const settled = Math.abs(gain) > SIGN_NATS;
    evidence.push({
      text: settled
        ? `${gain > 0 ? 'Signed' : 'Unsigned'}: told in ${share(Math.abs(gain), numberCost(codes) + Math.abs(gain))} less room.`
        : 'Signed or unsigned cannot be told: the value never crosses zero in a way that shows it.',
    });
  }
  if (from >> 3 !== to >> 3) {
    const agrees = busBigEndian > 0 === (lane.order === 'big');
    const strength = Math.abs(busBigEndian);
    evidence.push({
      text:
        strength < ORDER_NATS
          ? 'The other messages of this bus do not settle the byte order.'
          : `The other messages of this bus speak ${agrees ? 'for' : 'against'} this byte order, ${oddsWords(strength)}.`,
    });
  }
  if (to - from + 1 > active) {
    evidence.push({ text: `${several(to - from + 1 - active, 'bit')} inside the field stood still.` });
  }
  return evidence;
}

/** "16 %", at least "1 %" where there is anything. */
function share(part: number, whole: number): string {
  return `${whole > 0 ? Math.max(part > 0 ? 1 : 0, Math.round((100 * part) / whole)) : 0} %`;
}

/** Evidence in nats as odds: 3 nats are e³, "about 20 to 1". */
function oddsWords(nats: number): string {
  return nats > 6.9 ? 'more than 1,000 to 1' : `about ${Math.round(Math.exp(nats))} to 1`;
}

const CODE_WORDS = {
  enumeration: 'states that follow one another',
  number: 'a number that moves on from its last values',
  modular: 'a number that goes round',
  uniform: 'noise',
  counter: 'a counter',
  levels: 'levels that come back',
} as const;

function constant(rows: MessageRows, start: number, length: number, stays: number): FoundSignal {
  let hex = '';
  for (let bit = start + length; bit > start; ) {
    const low = Math.max(start, bit - 4);
    let digit = 0;
    for (let b = bit - 1; b >= low; b--)
      digit = 2 * digit + (((rows.payload[b >> 3] as number) >> (b & 7)) & 1);
    hex = hex + digit.toString(16).toUpperCase();
    bit = low;
  }
  return {
    start,
    length,
    byteOrder: 'little',
    signed: false,
    kind: 'constant',
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
    probability: stays,
    evidence: [
      {
        text: `Stood at ${length <= 4 ? hex : `0x${hex}`} in ${several(rows.count, 'frame')}.`,
        frames: rows.count,
        agree: rows.count,
      },
    ],
  };
}
