/** Check fields as nodes of a logic program; can/check.ts defines what they hold, and the tests compare the two. */
import type { Check, Counter } from '../dictionary/model.ts';
import type { ProgramBuilder } from '../logic/builder.ts';
import { insert } from '../logic/fields.ts';
import type { NodeId } from '../logic/form.ts';

export interface CheckNodes {
  /** What the check field must hold. */
  value: NodeId;
  /** False for a counter value that the check has no constant for: then no content is right. */
  possible: NodeId;
}

/**
 * The value of a check field for payload bytes (nodes, 0 … 255); `counter` is the node with the message's counter value.
 * Whatever the bytes hold in the check field itself counts as zero.
 */
export function checkNodes(
  b: ProgramBuilder,
  check: Check,
  id: number,
  bytes: readonly NodeId[],
  counter: NodeId | null,
): CheckNodes {
  const cleared = insert(b, bytes, unsignedField(check), b.const(0));
  const covered = check.covers.map((i) => cleared[i] as NodeId);
  const before = [...check.prefix, ...check.idBytes.map((k) => (id >>> (8 * k)) & 255)];
  const constants = check.perCounter && counter !== null ? check.perCounter : [];
  const constant = counter === null ? b.const(0) : pick(b, counter, constants);
  const possible =
    counter === null || constants.length === 0 ? b.bool(true) : b.le(counter, b.const(constants.length - 1));
  const full = folded(b, check, before, covered, constant);
  const value = check.length < check.width ? b.wrap(full, check.length) : full;
  return { value, possible };
}

/** A counter or check field as the fields of logic programs are described. */
export function unsignedField(field: Pick<Counter | Check, 'start' | 'length' | 'byteOrder'>) {
  const { start, length, byteOrder } = field;
  return { start, length, byteOrder, signed: false } as const;
}

function folded(
  b: ProgramBuilder,
  check: Check,
  before: number[],
  covered: NodeId[],
  constant: NodeId,
): NodeId {
  const { width, init, xorout, suffix } = check;
  const mask = 2 ** width - 1;
  if (check.algorithm === 'crc') {
    const { poly, reflected } = check;
    const all = [...before.map((v) => b.const(v)), ...covered, ...suffix.map((v) => b.const(v))];
    const crc = b.crc(all, { width: width as 8 | 16, poly, init, xorout, reflected });
    return isZero(b, constant) ? crc : b.xor(crc, constant);
  }
  const fixed = [...before, ...suffix];
  if (check.algorithm === 'xor') {
    const start = fixed.reduce((r, v) => r ^ v, init) ^ xorout;
    const all = covered.reduce((r, v) => (isZero(b, r) ? v : b.xor(r, v)), b.const(start));
    const with_ = isZero(b, constant) ? all : b.xor(all, constant);
    return b.interval(with_).hi > mask ? b.wrap(with_, width) : with_;
  }
  const terms =
    check.algorithm === 'nibbleSum' ? covered.map((v) => b.add(b.divk(v, 16), b.wrap(v, 4))) : covered;
  const fixedSum =
    check.algorithm === 'nibbleSum'
      ? fixed.reduce((r, v) => r + (v >> 4) + (v & 15), init)
      : check.algorithm === 'sum'
        ? fixed.reduce((r, v) => r + v, init)
        : fixed.reduce((r, v) => r - v, init);
  const sum =
    check.algorithm === 'sumComplement' ? lessThan(b, terms, fixedSum, width) : more(b, terms, fixedSum);
  const total = b.wrap(b.add(sum, constant), width);
  return xorout === 0 ? total : b.xor(total, b.const(xorout));
}

function more(b: ProgramBuilder, terms: NodeId[], start: number): NodeId {
  return terms.reduce((sum, term) => b.add(sum, term), b.const(start));
}

/** start − Σ terms, raised by a multiple of 2^width so that it cannot be negative. */
function lessThan(b: ProgramBuilder, terms: NodeId[], start: number, width: number): NodeId {
  const least = start - terms.reduce((sum, term) => sum + b.interval(term).hi, 0);
  const turns = Math.max(0, Math.ceil(-least / 2 ** width));
  return terms.reduce((sum, term) => b.sub(sum, term), b.const(start + turns * 2 ** width));
}

/** The constant for a counter value; beyond the list the last one, where no content is right anyway. */
function pick(b: ProgramBuilder, counter: NodeId, constants: readonly number[]): NodeId {
  const last = b.const(constants.at(-1) ?? 0);
  return constants
    .slice(0, -1)
    .reduceRight((rest, constant, i) => b.select(b.eq(counter, b.const(i)), b.const(constant), rest), last);
}

function isZero(b: ProgramBuilder, node: NodeId): boolean {
  const { lo, hi } = b.interval(node);
  return lo === 0 && hi === 0;
}
