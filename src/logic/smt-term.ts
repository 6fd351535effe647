/** One node as an SMT-LIB bit-vector term of the smallest width that holds its interval. */
import { crc } from '../can/crc.ts';
import type { LogicNode, NodeId, NodeType, Table } from './form.ts';
import { bitsFor, type Interval } from './interval.ts';

/** How a value is held: a truth value, or a bit-vector read as unsigned (interval ≥ 0) or in two's complement. */
export type Shape = { kind: 'bool' } | { kind: 'bits'; width: number; signed: boolean };

type Bits = Shape & { kind: 'bits' };

/** The narrowest shape for an interval. */
export function shapeOf(value: Interval & { type: NodeType }): Shape {
  if (value.type === 'bool') return { kind: 'bool' };
  if (value.lo >= 0) return { kind: 'bits', width: bitsFor(value.hi), signed: false };
  const magnitude = Math.max(-value.lo - 1, value.hi);
  return { kind: 'bits', width: magnitude === 0 ? 1 : bitsFor(magnitude) + 1, signed: true };
}

export function sortOf(shape: Shape): string {
  return shape.kind === 'bool' ? 'Bool' : `(_ BitVec ${shape.width})`;
}

/** A constant in a shape, its low bits where it does not fit. */
export function literal(shape: Shape, value: number): string {
  if (shape.kind === 'bool') return value === 0 ? 'false' : 'true';
  return bits(value, shape.width);
}

/** Whether a shape can hold an integer. */
export function holds(shape: Shape, value: number): boolean {
  if (shape.kind === 'bool') return value === 0 || value === 1;
  return decodeValue(shape, BigInt(value)) === value;
}

/** The integer that a model value (unsigned, as the solver prints it) means in a shape. */
export function decodeValue(shape: Shape, value: bigint): number {
  if (shape.kind === 'bool') return Number(value);
  return Number(shape.signed ? BigInt.asIntN(shape.width, value) : BigInt.asUintN(shape.width, value));
}

/** The statement that a symbol of this shape lies in lo … hi, or null where the shape allows nothing else. */
export function withinTerm(symbol: string, shape: Shape, { lo, hi }: Interval): string | null {
  if (shape.kind === 'bool') {
    if (lo === 0 && hi === 1) return null;
    return lo === 1 ? symbol : `(not ${symbol})`;
  }
  const least = shape.signed ? -(2 ** (shape.width - 1)) : 0;
  const most = 2 ** (shape.signed ? shape.width - 1 : shape.width) - 1;
  const order = shape.signed ? 'bvsle' : 'bvule';
  if (lo > most || hi < least) return 'false';
  const parts = [
    lo > least ? `(${order} ${literal(shape, lo)} ${symbol})` : null,
    hi < most ? `(${order} ${symbol} ${literal(shape, hi)})` : null,
  ].filter((part) => part !== null);
  if (parts.length === 0) return null;
  return parts.length === 1 ? (parts[0] as string) : `(and ${parts.join(' ')})`;
}

/** A symbol of one shape read in another; low bits only where the other is narrower. */
export function fit(term: string, from: Shape, to: Shape): string {
  return from.kind === 'bits' && to.kind === 'bits' ? resized(term, from, to.width) : term;
}

/** A term and how it is read. */
export interface Operand {
  term: string;
  shape: Shape;
  /** Of a constant, which is written at the width where it stands. */
  value?: number;
}

/**
 * The defining term of a node from the terms of its operands. Sums, differences and products are taken modulo 2^width
 * of the result, which is exact because the result lies in its interval; comparisons at a width that holds both sides.
 */
export function termOf(
  n: LogicNode,
  nodeOf: (id: NodeId) => LogicNode,
  symbol: (id: NodeId) => string,
): string {
  const shape = shapeOf(n);
  const width = shape.kind === 'bits' ? shape.width : 0;
  const operand = (id: NodeId): Operand => {
    const node = nodeOf(id);
    const known = node.kind === 'const' ? { value: node.value } : {};
    return { term: symbol(id), shape: shapeOf(node), ...known };
  };
  const sized = (id: NodeId) => (shape.kind === 'bool' ? symbol(id) : atWidth(operand(id), width));
  switch (n.kind) {
    case 'const':
      return literal(shape, n.value);
    case 'input':
    case 'state':
      throw new Error('inputs and states are declared, not defined');
    case 'add':
      return `(bvadd ${sized(n.a)} ${sized(n.b)})`;
    case 'sub':
      return `(bvsub ${sized(n.a)} ${sized(n.b)})`;
    case 'mulk':
      return `(bvmul ${sized(n.a)} ${bits(n.k, width)})`;
    case 'divk': {
      const { term, shape: from } = operand(n.a);
      return quotient(term, from as Bits, n.k, width);
    }
    case 'wrap':
      return sized(n.a);
    case 'xor':
      return `(bvxor ${sized(n.a)} ${sized(n.b)})`;
    case 'min':
      return `(ite ${comparedTerm('le', operand(n.a), operand(n.b))} ${sized(n.a)} ${sized(n.b)})`;
    case 'max':
      return `(ite ${comparedTerm('le', operand(n.a), operand(n.b))} ${sized(n.b)} ${sized(n.a)})`;
    case 'lt':
    case 'le':
      return comparedTerm(n.kind, operand(n.a), operand(n.b));
    case 'eq':
      return nodeOf(n.a).type === 'bool'
        ? `(= ${symbol(n.a)} ${symbol(n.b)})`
        : comparedTerm('eq', operand(n.a), operand(n.b));
    case 'and':
    case 'or':
      return `(${n.kind} ${symbol(n.a)} ${symbol(n.b)})`;
    case 'not':
      return `(not ${symbol(n.a)})`;
    case 'select':
      return `(ite ${symbol(n.when)} ${sized(n.yes)} ${sized(n.no)})`;
    case 'clockSub': {
      const elapsed = `(bvsub ${symbol(n.a)} ${symbol(n.b)})`;
      const shown = resized('e', { kind: 'bits', width: 32, signed: false }, width);
      return `(let ((e ${elapsed})) (ite (bvult e ${bits(n.hi, 32)}) ${shown} ${bits(n.hi, width)}))`;
    }
    case 'table':
      return tableTerm(n.table, symbol(n.a), nodeOf(n.a), width);
    case 'crc':
      return crcTerm(
        n,
        n.bytes.map((id) => operand(id) as { term: string; shape: Bits }),
      );
  }
}

function bits(value: number, width: number): string {
  return `#b${BigInt.asUintN(width, BigInt(value)).toString(2).padStart(width, '0')}`;
}

function resized(term: string, from: Bits, width: number): string {
  if (width === from.width) return term;
  if (width < from.width) return `((_ extract ${width - 1} 0) ${term})`;
  return `((_ ${from.signed ? 'sign' : 'zero'}_extend ${width - from.width}) ${term})`;
}

function atWidth({ term, shape, value }: Operand, width: number): string {
  return value === undefined ? resized(term, shape as Bits, width) : bits(value, width);
}

/** Two integers compared at a width that holds both. */
export function comparedTerm(how: 'lt' | 'le' | 'eq', a: Operand, b: Operand): string {
  const [x, y] = [a.shape as Bits, b.shape as Bits];
  const signed = x.signed || y.signed;
  const room = (s: Bits) => s.width + (signed && !s.signed ? 1 : 0);
  const width = Math.max(room(x), room(y));
  const order = how === 'eq' ? '=' : `bv${signed ? 's' : 'u'}${how}`;
  return `(${order} ${atWidth(a, width)} ${atWidth(b, width)})`;
}

/** floor(term / k) of an unsigned term, at the width given. */
function quotient(term: string, from: Bits, k: number, width: number): string {
  if (k >= 2 ** from.width) return bits(0, width);
  const shift = Math.log2(k);
  if (!Number.isInteger(shift)) return resized(`(bvudiv ${term} ${bits(k, from.width)})`, from, width);
  const high = `((_ extract ${from.width - 1} ${shift}) ${term})`;
  return resized(high, { kind: 'bits', width: from.width - shift, signed: false }, width);
}

/** One multiplication by a constant per segment that the argument can reach. */
function tableTerm(t: Table, a: string, argument: LogicNode, width: number): string {
  const [x, y] = [t.x, t.y];
  const from = shapeOf(argument) as Bits;
  const last = x.length - 1;
  const below = (limit: number, order: 'bvult' | 'bvule') => `(${order} ${a} ${bits(limit, from.width)})`;
  let text = bits(y[last]!, width);
  for (let i = last - 1; i >= 0; i--) {
    if (argument.lo >= x[i + 1]!) continue;
    const inside = segmentTerm(t, i, a, from, width);
    text = argument.hi < x[i + 1]! ? inside : `(ite ${below(x[i + 1]!, 'bvult')} ${inside} ${text})`;
  }
  if (argument.lo > x[0]!) return text;
  return argument.hi <= x[0]!
    ? bits(y[0]!, width)
    : `(ite ${below(x[0]!, 'bvule')} ${bits(y[0]!, width)} ${text})`;
}

function segmentTerm(t: Table, i: number, a: string, from: Bits, width: number): string {
  const [x0, x1, y0, y1, m] = [t.x[i]!, t.x[i + 1]!, t.y[i]!, t.y[i + 1]!, t.m[i]!];
  const wide: Bits = { kind: 'bits', width: bitsFor((x1 - x0) * m + 255), signed: false };
  const distance = `(bvsub ${resized(a, from, wide.width)} ${bits(x0, wide.width)})`;
  const product = `(bvmul ${distance} ${bits(m, wide.width)})`;
  if (y1 >= y0) return `(bvadd ${bits(y0, width)} ${quotient(product, wide, 256, width)})`;
  const raised = `(bvadd ${product} ${bits(255, wide.width)})`;
  const drop: Bits = { kind: 'bits', width: Math.max(1, wide.width - 8), signed: false };
  const inside = `(bvsub ${bits(y0, width)} ${resized('q', drop, width)})`;
  const limit: Bits = { kind: 'bits', width: bitsFor(y0 - y1), signed: false };
  const over = comparedTerm('lt', { term: '', shape: limit, value: y0 - y1 }, { term: 'q', shape: drop });
  return `(let ((q ${quotient(raised, wide, 256, drop.width)})) (ite ${over} ${bits(y1, width)} ${inside}))`;
}

/** A CRC is affine over GF(2): its value for zero bytes, exclusive-or one constant for each bit that is 1. */
function crcTerm(n: LogicNode & { kind: 'crc' }, bytes: { term: string; shape: Bits }[]): string {
  const zero = n.bytes.map(() => 0);
  const base = crc(n, zero);
  const terms = bytes.flatMap(({ term, shape }, i) =>
    Array.from({ length: shape.width }, (_, bit) => {
      const change = crc(n, zero.with(i, 2 ** bit)) ^ base;
      return `(ite (= ((_ extract ${bit} ${bit}) ${term}) #b1) ${bits(change, n.width)} ${bits(0, n.width)})`;
    }),
  );
  return terms.reduce((sum, term) => `(bvxor ${sum} ${term})`, bits(base, n.width));
}
