/** Random logic programs over every kind of node, and inputs for them that prefer the ends of the intervals. */
import fc from 'fast-check';
import { CLOCK_MAX, LogicError, ProgramBuilder } from '../../src/logic/builder.ts';
import type { LogicNode, NodeId, NodeType, Program } from '../../src/logic/form.ts';

/** One draw: which operation, and numbers from which operands and constants are chosen. */
type Draw = [op: number, a: number, b: number, c: number, k: number];

const number = fc.nat(2 ** 30);
const draws = fc.array(fc.tuple(number, number, number, number, number), { minLength: 4, maxLength: 60 });

/** Programs with 2–3 clock readings, integer and truth-valued inputs and states, and up to some 150 nodes. */
export const programs: fc.Arbitrary<Program> = fc
  .tuple(draws, fc.array(number, { minLength: 24, maxLength: 24 }))
  .map(([list, numbers]) => programFrom('random', list, numbers));

/** Linear congruential generator modulo 2³² (constants as in Numerical Recipes, from memory). */
export function random(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

/**
 * A value for every input: an end of its interval or beside it, 0, a constant of the program or beside it, or any. A
 * clock stands near the clock readings of the state as often as anywhere.
 */
export function drawInputs(
  program: Program,
  below: (n: number) => number,
  state: ArrayLike<number>,
): Float64Array {
  const clocks = program.states.flatMap((s, i) => (s.hi === CLOCK_MAX ? [state[i] as number] : []));
  return Float64Array.from(program.inputs, (range) => {
    if (range.hi !== CLOCK_MAX || clocks.length === 0 || below(2) === 0)
      return drawWithin(range, program, below);
    const later = drawWithin({ lo: 0, hi: 5000 }, program, below);
    return ((clocks[below(clocks.length)] as number) + later) % 2 ** 32;
  });
}

/** Any state within the declared ranges, reachable or not. */
export function drawState(program: Program, below: (n: number) => number): Float64Array {
  return Float64Array.from(program.states, (range) => drawWithin(range, program, below));
}

/** A state and the inputs of the steps from it. */
export interface Point {
  state: Float64Array;
  /** One or more; as many for every point of a call. */
  inputs: Float64Array[];
}

/** Points with a liking for ends and constants; every third without any. */
export function drawPoints(program: Program, count: number, seed: number, steps = 1): Point[] {
  const below = random(seed);
  const evenly = ({ lo, hi }: { lo: number; hi: number }) => lo + below(hi - lo + 1);
  return Array.from({ length: count }, (_, i) => {
    if (i % 3 === 2)
      return {
        state: Float64Array.from(program.states, evenly),
        inputs: Array.from({ length: steps }, () => Float64Array.from(program.inputs, evenly)),
      };
    const state = drawState(program, below);
    return { state, inputs: Array.from({ length: steps }, () => drawInputs(program, below, state)) };
  });
}

function drawWithin(
  { lo, hi }: { lo: number; hi: number },
  program: Program,
  below: (n: number) => number,
): number {
  const width = hi - lo + 1;
  const inside = (value: number) => Math.min(hi, Math.max(lo, value));
  switch (below(6)) {
    case 0:
      return inside(lo + below(3));
    case 1:
      return inside(hi - below(3));
    case 2:
      return inside(below(3));
    case 3: {
      const node = program.nodes[below(program.nodes.length)] as LogicNode;
      if (node.kind === 'const') return inside(node.value + below(3) - 1);
      if (node.kind === 'table')
        return inside((node.table.x[below(node.table.x.length)] as number) + below(3) - 1);
      return inside(lo + below(width));
    }
    default:
      return inside(lo + below(width));
  }
}

export function programFrom(name: string, list: Draw[], numbers: number[]): Program {
  const b = new ProgramBuilder(name, 'Random program.');
  const ints: NodeId[] = [];
  const bools: NodeId[] = [];
  const clocks: NodeId[] = [];
  const states: { id: NodeId; type: NodeType; lo: number; hi: number }[] = [];
  let cursor = 0;
  const take = (below: number) => (numbers[cursor++ % numbers.length] as number) % below;
  const span = () => {
    const bits = 1 + take(30);
    const lo = take(3) === 0 ? 0 : -(take(2 ** bits) + 1);
    return { lo, hi: lo + take(2 ** bits) };
  };

  clocks.push(b.inputClock('now', 'ms'));
  clocks.push(b.state('before', 0, CLOCK_MAX, CLOCK_MAX - take(50), 'ms'));
  b.next(clocks[1] as NodeId, clocks[0] as NodeId);
  for (let i = 0; i < 3; i++) {
    const { lo, hi } = span();
    ints.push(b.input(`number_${i}`, lo, hi, 'any'));
  }
  ints.push(b.input('byte_0', 0, 255), b.input('byte_1', 0, 255));
  bools.push(b.inputBool('flag_0'), b.inputBool('flag_1'));
  for (let i = 0; i < 2; i++) {
    const { lo, hi } = span();
    const id = b.state(`held_${i}`, lo, hi, lo + take(hi - lo + 1));
    ints.push(id);
    states.push({ id, type: 'int', lo, hi });
  }
  const latch = b.stateBool('latched', take(2) === 0);
  bools.push(latch);
  states.push({ id: latch, type: 'bool', lo: 0, hi: 1 });

  for (const draw of list) apply(b, draw, ints, bools, clocks);
  states.forEach(({ id, type, lo, hi }, i) => {
    if (type === 'bool') b.next(id, bools[bools.length - 1 - (take(3) % bools.length)] as NodeId);
    else b.next(id, b.clamp(ints[ints.length - 1 - (i % ints.length)] as NodeId, b.const(lo), b.const(hi)));
  });
  ints.slice(-6).forEach((id, i) => {
    b.output(`out_${i}`, id);
  });
  bools.slice(-3).forEach((id, i) => {
    b.output(`told_${i}`, id);
  });
  return b.finish();
}

/** Adds one node, with operands clamped first where the builder would refuse it. */
function apply(
  b: ProgramBuilder,
  [op, r0, r1, r2, k]: Draw,
  ints: NodeId[],
  bools: NodeId[],
  clocks: NodeId[],
): void {
  const recent = (list: NodeId[], r: number) =>
    list[r % 3 === 0 ? r % list.length : Math.max(0, list.length - 1 - (r % 6))] as NodeId;
  const [x, y, p, q] = [recent(ints, r0), recent(ints, r1), recent(bools, r0), recent(bools, r2)];
  const within = (id: NodeId, lo: number, hi: number) => b.clamp(id, b.const(lo), b.const(hi));
  const half = (id: NodeId) => within(id, -(2 ** 29) + (k % 7), 2 ** 29 - (k % 5));
  const positive = (id: NodeId) => b.max(id, b.const(k % 3));
  const attempt = (first: () => NodeId, second: () => NodeId): NodeId => {
    try {
      return first();
    } catch (error) {
      if (!(error instanceof LogicError)) throw error;
      return second();
    }
  };
  switch (op % 20) {
    case 0:
      ints.push(b.const((k % 2001) - 1000));
      break;
    case 1:
      ints.push(
        attempt(
          () => b.add(x, y),
          () => b.add(half(x), half(y)),
        ),
      );
      break;
    case 2:
      ints.push(
        attempt(
          () => b.sub(x, y),
          () => b.sub(half(x), half(y)),
        ),
      );
      break;
    case 3: {
      const factor = (k % 401) - 200;
      ints.push(
        attempt(
          () => b.mulk(x, factor),
          () => b.mulk(within(x, -(2 ** 23), 2 ** 23), factor),
        ),
      );
      break;
    }
    case 4:
      ints.push(b.divk(positive(x), k % 2 === 0 ? 2 ** (1 + (k % 12)) : 1 + (k % 1000)));
      break;
    case 5:
      ints.push(b.wrap(positive(x), 1 + (k % 31)));
      break;
    case 6:
      ints.push(b.xor(positive(x), positive(y)));
      break;
    case 7:
      ints.push(b.min(x, y));
      break;
    case 8:
      ints.push(b.max(x, y));
      break;
    case 9:
      bools.push(b.lt(x, y));
      break;
    case 10:
      bools.push(b.le(x, y));
      break;
    case 11:
      bools.push(k % 4 === 0 ? b.eq(p, q) : b.eq(within(x, 0, 3), within(y, 1, 3)));
      break;
    case 12:
      bools.push(b.and(p, q));
      break;
    case 13:
      bools.push(b.or(p, q));
      break;
    case 14:
      bools.push(b.not(p));
      break;
    case 15:
      if (k % 3 === 0) bools.push(b.select(p, q, recent(bools, r1)));
      else ints.push(b.select(q, x, y));
      break;
    case 16:
      ints.push(
        b.clockSub(recent(clocks, r0), recent(clocks, r1), [0, 15, 4000, 2 ** 31 - 1][k % 4] as number),
      );
      break;
    case 17: {
      let at = k % 40;
      const points = Array.from({ length: 2 + (k % 5) }, (_, i): [number, number] => {
        at += 1 + ((r1 >> i) % 300);
        return [at, (r2 >> i) % 900];
      });
      ints.push(b.table(positive(x), `curve_${k % 100}`, points));
      break;
    }
    case 18: {
      const width = k % 2 === 0 ? 8 : 16;
      const bytes = Array.from({ length: 1 + (k % 4) }, (_, i) => within(recent(ints, r1 >> i), 0, 255));
      const mask = 2 ** width - 1;
      ints.push(
        b.crc(bytes, {
          width,
          poly: (r0 & mask) | 1,
          init: r1 & mask,
          xorout: r2 & mask,
          reflected: k % 3 === 0,
        }),
      );
      break;
    }
    default:
      ints.push(b.abs(b.named(`part_${r0 % 50}`, x)));
  }
}
