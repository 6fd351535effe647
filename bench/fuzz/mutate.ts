/** Ways to spoil a recording, each small; several are put on top of each other. */
import type { Random } from './random.ts';

/** Inputs stay below this, so that what takes long or much memory is the reader's doing. */
const LONGEST = 1 << 16;

/** A spoilt copy of `seed`; `others` lends pieces. */
export function mutated(seed: Uint8Array, others: readonly Uint8Array[], random: Random): Uint8Array {
  let bytes: Uint8Array = seed.slice();
  // One change most often, seldom many: what many spoil is seldom read far.
  let changes = 1;
  while (changes < 12 && random.unit() < 0.55) changes++;
  for (let k = 0; k < changes; k++) bytes = random.of(CHANGES)(bytes, others, random);
  return bytes.length > LONGEST ? bytes.slice(0, LONGEST) : bytes;
}

/** How the bytes of one input come: all at once, byte by byte, or in pieces of random size. */
export function piecesOf(bytes: Uint8Array, random: Random): Uint8Array[] {
  const kind = bytes.length < 800 && random.below(16) === 0 ? 3 : random.below(3);
  const most = [bytes.length, 64, 4096, 1][kind] as number;
  const pieces: Uint8Array[] = [];
  for (let at = 0; at < bytes.length; ) {
    const size = Math.min(bytes.length - at, kind === 0 ? most : 1 + random.below(most));
    // Off the word boundary now and then: readers take aligned pieces another way.
    const shift = random.below(4);
    const piece = new Uint8Array(size + shift).subarray(shift);
    piece.set(bytes.subarray(at, at + size));
    pieces.push(piece);
    at += size;
  }
  return pieces;
}

type Change = (bytes: Uint8Array, others: readonly Uint8Array[], random: Random) => Uint8Array;

const flipBit: Change = (bytes, _, random) => {
  const at = random.below(bytes.length);
  if (bytes.length > 0) bytes[at] = (bytes[at] as number) ^ (1 << random.below(8));
  return bytes;
};

const setByte: Change = (bytes, _, random) => {
  if (bytes.length > 0)
    bytes[random.below(bytes.length)] = random.of([0, 1, 0x7f, 0x80, 0xff, 10, random.below(256)]);
  return bytes;
};

/** A number where a length, count or offset may stand, in either byte order, mostly on a word boundary. */
const setNumber: Change = (bytes, _, random) => {
  const width = random.of([2, 4, 8] as const);
  if (bytes.length < width) return bytes;
  const loose = random.below(bytes.length - width + 1);
  const at = random.unit() < 0.8 ? loose & ~3 : loose;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const order = random.unit() < 0.8;
  const near = [
    0, 1, 2, 3, 4, 7, 8, 12, 16, 24, 64, 255, 256, 4096, 0x1_0000, 0x10_0000, 0x7fff_ffff, 0x8000_0000,
    0xffff_ffff,
  ];
  const value = random.of([
    ...near,
    bytes.length,
    bytes.length + 1,
    bytes.length - 1,
    bytes.length - at,
    random.below(2 ** 32),
  ]);
  if (width === 2) view.setUint16(at, value & 0xffff, order);
  else if (width === 4) view.setUint32(at, value >>> 0, order);
  else view.setBigUint64(at, BigInt(value) << BigInt(random.of([0, 0, 0, 16, 32])), order);
  return bytes;
};

const moveNumber: Change = (bytes, _, random) => {
  if (bytes.length < 4) return bytes;
  const at = random.below(bytes.length - 3) & ~3;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const order = random.unit() < 0.8;
  view.setUint32(at, (view.getUint32(at, order) + random.of([-8, -4, -2, -1, 1, 2, 4, 8])) >>> 0, order);
  return bytes;
};

const cutOff: Change = (bytes, _, random) => bytes.slice(0, random.below(bytes.length + 1));

const dropPart: Change = (bytes, _, random) => {
  const [from, to] = part(bytes, random);
  return joined(bytes.subarray(0, from), bytes.subarray(to));
};

const repeatPart: Change = (bytes, _, random) => {
  const [from, to] = part(bytes, random);
  const copies = Array.from({ length: 1 + random.below(3) }, () => bytes.subarray(from, to));
  return joined(bytes.subarray(0, to), ...copies, bytes.subarray(to));
};

const movePart: Change = (bytes, _, random) => {
  const [from, to] = part(bytes, random);
  const rest = joined(bytes.subarray(0, from), bytes.subarray(to));
  const at = random.below(rest.length + 1);
  return joined(rest.subarray(0, at), bytes.subarray(from, to), rest.subarray(at));
};

/** A piece of another recording, in between or on top. */
const splice: Change = (bytes, others, random) => {
  const other = random.of(others);
  const [from, to] = part(other, random);
  const at = random.below(bytes.length + 1);
  const keep = random.unit() < 0.5 ? at : Math.min(bytes.length, at + to - from);
  return joined(bytes.subarray(0, at), other.subarray(from, to), bytes.subarray(keep));
};

const putWord: Change = (bytes, _, random) => {
  const at = random.below(bytes.length + 1);
  return joined(bytes.subarray(0, at), random.of(WORDS), bytes.subarray(at));
};

const putRun: Change = (bytes, _, random) => {
  const at = random.below(bytes.length + 1);
  const run = new Uint8Array(1 + random.below(random.of([8, 300, 5000]))).fill(
    random.of([0, 0x20, 0x30, 0x2c, 0xff, random.below(256)]),
  );
  return joined(bytes.subarray(0, at), run, bytes.subarray(at));
};

/** As a sender that begins anew. */
const again: Change = (bytes) => joined(bytes, bytes);

const CHANGES: readonly Change[] = [
  flipBit,
  flipBit,
  setByte,
  setNumber,
  setNumber,
  setNumber,
  moveNumber,
  cutOff,
  dropPart,
  repeatPart,
  movePart,
  splice,
  putWord,
  putRun,
  again,
];

const WORDS: readonly Uint8Array[] = [
  ',',
  '\n',
  '\r\n',
  '"',
  ';',
  '\t',
  '#',
  '-',
  '.',
  '0x',
  'x',
  '1e999',
  'NaN',
  '-1',
  '99999999999999999999',
  '0.000000000001',
  '1FFFFFFF',
  '20000000',
  'FFFFFFFFFFFFFFFF',
  't,bus,id,ext,data\n',
  '\ufeff',
  '\0',
  '(',
  '[8]',
  '::',
  'é',
].map((word) => new TextEncoder().encode(word));

/** Start and end of a random part, short ones more often, mostly on word boundaries. */
function part(bytes: Uint8Array, random: Random): [from: number, to: number] {
  const size = Math.min(bytes.length, 1 + random.below(random.of([4, 16, 64, 512, bytes.length])));
  const from = random.below(bytes.length - size + 1);
  return random.unit() < 0.5 ? [from & ~3, (from & ~3) + size] : [from, from + size];
}

function joined(...parts: readonly Uint8Array[]): Uint8Array {
  const all = new Uint8Array(parts.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const p of parts) {
    all.set(p, at);
    at += p.length;
  }
  return all;
}
