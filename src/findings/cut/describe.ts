/** A cut turned into findings: kinds, signs and the evidence for them, and the constants between the fields. */
import { fieldBits } from '../../can/bits.ts';
import type { Evidence, FieldKind, FoundSignal } from '../model.ts';
import type { MessageRows } from '../rows.ts';
import type { CoveredField } from '../segment.ts';
import { several } from '../words.ts';
import { type Candidate, numberCost } from './candidates.ts';
import { type Lane, STILL } from './lane.ts';
import { statedProbability } from './stated.ts';

/** Nats by which a reading of the sign must be cheaper: a sign bit; two's complement that crosses zero often, or once. */
const MAGNITUDE_NATS = 10;
const SIGNED_NATS = 4;
const SIGNED_ONCE_NATS = 11;
const CLEAR_NATS = 40;
/** So many short crossings of zero are enough by themselves. */
const OFTEN = 5;
const UNSIGNED_NATS = 10;
/** Share of the flips of the top bit at which the value must be near zero. */
const SHORT_SHARE = 0.6;
/** Pooled evidence for a byte order below this settles nothing. */
const ORDER_NATS = 3;

export function signalOf(rows: MessageRows, field: CoveredField): FoundSignal {
  const { lane, candidate } = field;
  const { from, to } = candidate;
  const oneByte = from >> 3 === to >> 3;
  const byteOrder = oneByte ? 'little' : lane.order;
  const kind = kindOf(candidate);
  const sign = kind === 'number' ? signOf(candidate) : NO_SIGN;
  return {
    ...(candidate.block
      ? wholeBytes(lane, candidate)
      : { start: lane.bits[byteOrder === 'little' ? from : to] as number, length: to - from + 1, byteOrder }),
    signed: sign.signed,
    kind,
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
    probability: statedProbability(field.probability),
    evidence: evidenceOf(rows, field, kind, sign),
  };
}

/** A block is made of bytes, whatever of them moves. */
function wholeBytes(
  lane: Lane,
  { from, to }: Candidate,
): Pick<FoundSignal, 'start' | 'length' | 'byteOrder'> {
  const bytes = [lane.bits[from] as number, lane.bits[to] as number].map((bit) => bit >> 3);
  const first = Math.min(...bytes);
  return { start: 8 * first, length: 8 * (Math.max(...bytes) - first + 1), byteOrder: 'little' };
}

interface Sign {
  signed: FoundSignal['signed'];
  /** Nats by which the next best reading costs more. */
  nats: number;
}

const NO_SIGN: Sign = { signed: false, nats: 0 };

/**
 * How the top bit is to be read. A number that crosses zero jumps between the ends of its unsigned range and passes its
 * middle only where it becomes "not available"; an angle or a time goes over both. A sign bit shows where the magnitude
 * goes on as its bit flips. The thresholds are nats, chosen on made-up messages (bench/train/).
 */
function signOf({ codes, block, active }: Candidate): Sign {
  const frames = codes.uniform / (active * Math.LN2);
  const { unsigned, signed, magnitude, distinct, wraps, middles, topFlips } = codes;
  if (block || !Number.isFinite(unsigned)) return NO_SIGN;
  const plain = Math.min(unsigned, signed);
  if (distinct > 4 && plain - magnitude > MAGNITUDE_NATS && codes.shortTopFlips > SHORT_SHARE * topFlips)
    return { signed: 'magnitude', nats: plain - magnitude };
  const gain = unsigned - signed;
  const short = wraps > 0 && codes.shortWraps > SHORT_SHARE * wraps;
  const clear = gain > CLEAR_NATS && gain > 0.05 * unsigned;
  const crosses = distinct > 3 && (clear || (short && middles <= 1 + 0.2 * wraps));
  // What climbs in a line rolls over once as well.
  const climbs = codes.line < 0.35 * frames && codes.changes > frames / 2;
  const needed = wraps >= OFTEN && middles === 0 ? 0 : wraps > 1 || !climbs ? SIGNED_NATS : SIGNED_ONCE_NATS;
  if (crosses && gain > needed) return { signed: true, nats: gain };
  return { signed: false, nats: -gain > UNSIGNED_NATS ? -gain : 0 };
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
  const { active, code, codes, block } = candidate;
  if (block) return 'number';
  if (active === 1) return 'flag';
  if (code === 'counter' && active >= 3) return 'counter';
  if (active === 2) return 'enum';
  // Few levels that hop are a state; many of them, or levels that lie close together, are a number.
  const few = codes.distinct <= 16 && active <= 6;
  return few && (code === 'enumeration' || (code === 'levels' && codes.distinct <= 8)) ? 'enum' : 'number';
}

function evidenceOf(rows: MessageRows, field: CoveredField, kind: FieldKind, sign: Sign): Evidence[] {
  const { candidate, lane, busBigEndian } = field;
  const { codes, active, from, to, block } = candidate;
  if (block) {
    return [
      {
        text: `${several(block.contents, 'content')} in ${several(rows.count, 'frame')}, ${Math.round(100 * block.printable)} % of their bytes printable: a block of data, such as a text or a piece of a longer message, rather than numbers.`,
        frames: rows.count,
      },
    ];
  }
  const evidence: Evidence[] = [
    {
      text: `${several(codes.distinct, 'value')}, ${several(codes.changes, 'change')}; told most briefly as ${CODE_WORDS[candidate.code]}, in ${share(candidate.cost, codes.uniform)} of the room that its raw bits take.`,
      frames: rows.count,
    },
  ];
  if (kind === 'number' && Number.isFinite(numberCost(codes))) {
    const { signed, nats } = sign;
    evidence.push({
      text:
        nats > 0
          ? `${SIGN_WORDS[String(signed) as keyof typeof SIGN_WORDS]}: told in ${share(nats, numberCost(codes) + nats)} less room than under the next best reading.`
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

const SIGN_WORDS = {
  false: 'Unsigned',
  true: "Signed, in two's complement",
  magnitude: 'Signed, the sign in the top bit',
} as const;

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
