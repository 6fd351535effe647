/** The interval of a node from the intervals of its operands: the one place where it is decided what a value can reach. */
import type { LogicNode, NodeId } from './form.ts';

export interface Interval {
  lo: number;
  hi: number;
}

/**
 * For inputs, states, constants and cut-off clock differences the interval is their own; it is returned as it stands.
 * Bounds are exact for each node alone; `max(a, 0 − a)`, the magnitude, is known not to be negative.
 */
export function intervalOf(node: LogicNode, nodeOf: (id: NodeId) => LogicNode): Interval {
  switch (node.kind) {
    case 'const':
      return { lo: node.value, hi: node.value };
    case 'input':
    case 'state':
      return { lo: node.lo, hi: node.hi };
    case 'add': {
      const [x, y] = [nodeOf(node.a), nodeOf(node.b)];
      return { lo: x.lo + y.lo, hi: x.hi + y.hi };
    }
    case 'sub': {
      const [x, y] = [nodeOf(node.a), nodeOf(node.b)];
      return { lo: x.lo - y.hi, hi: x.hi - y.lo };
    }
    case 'mulk': {
      const x = nodeOf(node.a);
      const ends = [x.lo * node.k + 0, x.hi * node.k + 0];
      return { lo: Math.min(...ends), hi: Math.max(...ends) };
    }
    case 'divk': {
      const x = nodeOf(node.a);
      return { lo: Math.floor(x.lo / node.k), hi: Math.floor(x.hi / node.k) };
    }
    case 'wrap': {
      const x = nodeOf(node.a);
      return x.hi < 2 ** node.bits ? { lo: x.lo, hi: x.hi } : { lo: 0, hi: 2 ** node.bits - 1 };
    }
    case 'xor':
      return { lo: 0, hi: 2 ** bitsFor(Math.max(nodeOf(node.a).hi, nodeOf(node.b).hi)) - 1 };
    case 'min': {
      const [x, y] = [nodeOf(node.a), nodeOf(node.b)];
      return { lo: Math.min(x.lo, y.lo), hi: Math.min(x.hi, y.hi) };
    }
    case 'max': {
      const [x, y] = [nodeOf(node.a), nodeOf(node.b)];
      const least = isNegation(y, node.a, nodeOf) || isNegation(x, node.b, nodeOf) ? 0 : -Infinity;
      return { lo: Math.max(x.lo, y.lo, least), hi: Math.max(x.hi, y.hi) };
    }
    case 'select': {
      const [x, y] = [nodeOf(node.yes), nodeOf(node.no)];
      return { lo: Math.min(x.lo, y.lo), hi: Math.max(x.hi, y.hi) };
    }
    case 'clockSub':
      return { lo: 0, hi: node.hi };
    case 'table':
      return { lo: Math.min(...node.table.y), hi: Math.max(...node.table.y) };
    case 'crc':
      return { lo: 0, hi: 2 ** node.width - 1 };
    default:
      return { lo: 0, hi: 1 };
  }
}

/** Bits needed to hold 0 … value, at least 1. */
export function bitsFor(value: number): number {
  return Math.max(1, 32 - Math.clz32(value));
}

function isNegation(node: LogicNode, of: NodeId, nodeOf: (id: NodeId) => LogicNode): boolean {
  if (node.kind === 'mulk') return node.k === -1 && node.a === of;
  if (node.kind !== 'sub' || node.b !== of) return false;
  const zero = nodeOf(node.a);
  return zero.lo === 0 && zero.hi === 0;
}
