/**
 * Builds logic programs node by node, keeps the intervals, and refuses what could leave 32 bits.
 * Equal nodes are shared; the result is a plain `Program`.
 */
import type { LogicNode, NodeId, NodeType, Program, StateDef, Table } from './form.ts';

export const INT_MAX = 2 ** 31 - 1;
export const CLOCK_MAX = 2 ** 32 - 1;

/** A program could not be built: what, in which program, and what would be right. */
export class LogicError extends Error {}

type Draft = LogicNode extends infer N ? (N extends LogicNode ? Omit<N, 'name'> : never) : never;

export class ProgramBuilder {
  readonly #program: Program;
  readonly #shared = new Map<string, NodeId>();
  readonly #pending = new Set<number>();

  constructor(name: string, note: string) {
    this.#program = { name, note, inputs: [], states: [], nodes: [], outputs: [] };
  }

  /** Integer input with its interval; `note` gives unit and meaning. */
  input(name: string, lo: number, hi: number, note = ''): NodeId {
    return this.#newInput(name, 'int', lo, hi, note);
  }

  inputBool(name: string, note = ''): NodeId {
    return this.#newInput(name, 'bool', 0, 1, note);
  }

  /** Reading of the millisecond clock, 0 … 2³² − 1; only `clockSub` may use it. */
  inputClock(name: string, note = ''): NodeId {
    return this.#newInput(name, 'int', 0, CLOCK_MAX, note);
  }

  /** State variable; its next value must be given with `next` before `finish`. */
  state(name: string, lo: number, hi: number, init: number, note = ''): NodeId {
    return this.#newState(name, 'int', lo, hi, init, note);
  }

  stateBool(name: string, init: boolean, note = ''): NodeId {
    return this.#newState(name, 'bool', 0, 1, init ? 1 : 0, note);
  }

  /** Sets the value that a state takes after this step. Its interval must fit the state's where the builder can see it. */
  next(state: NodeId, value: NodeId): void {
    const node = this.#node(state);
    if (node.kind !== 'state') throw this.#error('next() needs a state');
    const def = this.#program.states[node.state] as StateDef;
    if (this.#node(value).type !== def.type)
      throw this.#error(`next value of ${def.name} has the wrong type`);
    def.next = value;
    this.#pending.delete(node.state);
  }

  output(name: string, node: NodeId, note = ''): void {
    if (this.#program.outputs.some((o) => o.name === name))
      throw this.#error(`output ${name} is there twice`);
    this.#program.outputs.push({ name, node, note });
  }

  /** Gives a node the name under which C and traces show it. Returns the node. */
  named(name: string, id: NodeId): NodeId {
    const node = this.#node(id);
    if (node.name === '') node.name = name;
    return id;
  }

  const(value: number): NodeId {
    if (!Number.isInteger(value)) throw this.#error(`constant ${value} is not an integer`);
    return this.#add({ kind: 'const', type: 'int', lo: value, hi: value, value });
  }

  bool(value: boolean): NodeId {
    const v = value ? 1 : 0;
    return this.#add({ kind: 'const', type: 'bool', lo: v, hi: v, value: v });
  }

  add(a: NodeId, b: NodeId): NodeId {
    const [x, y] = this.#ints(a, b);
    return this.#add({ kind: 'add', type: 'int', lo: x.lo + y.lo, hi: x.hi + y.hi, a, b });
  }

  sub(a: NodeId, b: NodeId): NodeId {
    const [x, y] = this.#ints(a, b);
    return this.#add({ kind: 'sub', type: 'int', lo: x.lo - y.hi, hi: x.hi - y.lo, a, b });
  }

  mulk(a: NodeId, k: number): NodeId {
    const x = this.#int(a);
    if (!Number.isInteger(k)) throw this.#error(`factor ${k} is not an integer`);
    const ends = [x.lo * k, x.hi * k];
    return this.#add({
      kind: 'mulk',
      type: 'int',
      lo: Math.min(...ends) + 0,
      hi: Math.max(...ends) + 0,
      a,
      k,
    });
  }

  divk(a: NodeId, k: number): NodeId {
    const x = this.#nonNegative(a, 'divk');
    if (!Number.isInteger(k) || k < 1) throw this.#error(`divisor ${k} is not a positive integer`);
    return this.#add({ kind: 'divk', type: 'int', lo: Math.floor(x.lo / k), hi: Math.floor(x.hi / k), a, k });
  }

  wrap(a: NodeId, bits: number): NodeId {
    const x = this.#nonNegative(a, 'wrap');
    if (!Number.isInteger(bits) || bits < 1 || bits > 31)
      throw this.#error(`wrap to ${bits} bits: 1 to 31 are possible`);
    if (x.hi < 2 ** bits) return a;
    return this.#add({ kind: 'wrap', type: 'int', lo: 0, hi: 2 ** bits - 1, a, bits });
  }

  xor(a: NodeId, b: NodeId): NodeId {
    const x = this.#nonNegative(a, 'xor');
    const y = this.#nonNegative(b, 'xor');
    const hi = 2 ** bitsFor(Math.max(x.hi, y.hi)) - 1;
    return this.#add({ kind: 'xor', type: 'int', lo: 0, hi, a, b });
  }

  min(a: NodeId, b: NodeId): NodeId {
    const [x, y] = this.#ints(a, b);
    return this.#add({ kind: 'min', type: 'int', lo: Math.min(x.lo, y.lo), hi: Math.min(x.hi, y.hi), a, b });
  }

  max(a: NodeId, b: NodeId): NodeId {
    const [x, y] = this.#ints(a, b);
    return this.#add({ kind: 'max', type: 'int', lo: Math.max(x.lo, y.lo), hi: Math.max(x.hi, y.hi), a, b });
  }

  lt(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    return this.#add({ kind: 'lt', type: 'bool', lo: 0, hi: 1, a, b });
  }

  le(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    return this.#add({ kind: 'le', type: 'bool', lo: 0, hi: 1, a, b });
  }

  eq(a: NodeId, b: NodeId): NodeId {
    if (this.#node(a).type !== this.#node(b).type) throw this.#error('eq() of different types');
    return this.#add({ kind: 'eq', type: 'bool', lo: 0, hi: 1, a, b });
  }

  and(first: NodeId, ...rest: NodeId[]): NodeId {
    return rest.reduce((a, b) => this.#logical('and', a, b), first);
  }

  or(first: NodeId, ...rest: NodeId[]): NodeId {
    return rest.reduce((a, b) => this.#logical('or', a, b), first);
  }

  not(a: NodeId): NodeId {
    this.#bool(a);
    return this.#add({ kind: 'not', type: 'bool', lo: 0, hi: 1, a });
  }

  select(when: NodeId, yes: NodeId, no: NodeId): NodeId {
    this.#bool(when);
    const y = this.#node(yes);
    const n = this.#node(no);
    if (y.type !== n.type) throw this.#error('select() between different types');
    return this.#add({
      kind: 'select',
      type: y.type,
      lo: Math.min(y.lo, n.lo),
      hi: Math.max(y.hi, n.hi),
      when,
      yes,
      no,
    });
  }

  /** Milliseconds from clock reading b to a, correct across the wrap at 2³²; anything above `cap` reads as `cap`. */
  clockSub(a: NodeId, b: NodeId, cap: number): NodeId {
    for (const id of [a, b]) {
      const kind = this.#node(id).kind;
      if (kind !== 'input' && kind !== 'state')
        throw this.#error('clockSub() takes clock inputs and states only');
    }
    return this.#add({ kind: 'clockSub', type: 'int', lo: 0, hi: cap, a, b });
  }

  /** Piecewise linear table; points as [x, y] pairs, x rising, y ≥ 0. */
  table(a: NodeId, name: string, points: readonly (readonly [number, number])[]): NodeId {
    const x = this.#nonNegative(a, 'table');
    const table = makeTable(name, points);
    if (x.hi > INT_MAX) throw this.#error(`table ${name}: argument leaves 32 bits`);
    const rise = Math.max(
      ...table.m.map((m, i) => m * ((table.x[i + 1] as number) - (table.x[i] as number))),
      0,
    );
    if (rise > INT_MAX)
      throw this.#error(`table ${name}: a segment is too steep for 32-bit arithmetic; use coarser units`);
    return this.#add({
      kind: 'table',
      type: 'int',
      lo: Math.min(...table.y),
      hi: Math.max(...table.y),
      a,
      table,
    });
  }

  crc(
    bytes: NodeId[],
    p: { width: 8 | 16; poly: number; init: number; xorout: number; reflected: boolean },
  ): NodeId {
    for (const id of bytes) {
      const x = this.#int(id);
      if (x.lo < 0 || x.hi > 255) throw this.#error('crc() takes bytes, 0 to 255');
    }
    return this.#add({ kind: 'crc', type: 'int', lo: 0, hi: 2 ** p.width - 1, bytes, ...p });
  }

  clamp(a: NodeId, lo: NodeId, hi: NodeId): NodeId {
    return this.min(this.max(a, lo), hi);
  }

  abs(a: NodeId): NodeId {
    return this.max(a, this.sub(this.const(0), a));
  }

  interval(id: NodeId): { lo: number; hi: number } {
    const { lo, hi } = this.#node(id);
    return { lo, hi };
  }

  finish(): Program {
    for (const s of this.#pending)
      throw this.#error(`state ${this.#program.states[s]?.name} has no next value`);
    return this.#program;
  }

  #newInput(name: string, type: NodeType, lo: number, hi: number, note: string): NodeId {
    this.#freshName(name);
    this.#program.inputs.push({ name, type, lo, hi, note });
    return this.#push({ kind: 'input', type, lo, hi, input: this.#program.inputs.length - 1, name });
  }

  #newState(name: string, type: NodeType, lo: number, hi: number, init: number, note: string): NodeId {
    this.#freshName(name);
    if (init < lo || init > hi) throw this.#error(`state ${name} starts at ${init}, outside ${lo} … ${hi}`);
    const index = this.#program.states.length;
    this.#program.states.push({ name, type, lo, hi, init, next: -1, note });
    this.#pending.add(index);
    return this.#push({ kind: 'state', type, lo, hi, state: index, name });
  }

  #freshName(name: string): void {
    if (!/^[a-z][a-z0-9_]*$/.test(name))
      throw this.#error(`name "${name}": lower-case letters, digits and _ are possible`);
    const taken = [...this.#program.inputs, ...this.#program.states].some((d) => d.name === name);
    if (taken) throw this.#error(`name ${name} is there twice`);
  }

  #logical(kind: 'and' | 'or', a: NodeId, b: NodeId): NodeId {
    this.#bool(a);
    this.#bool(b);
    return this.#add({ kind, type: 'bool', lo: 0, hi: 1, a, b });
  }

  #add(draft: Draft): NodeId {
    if (draft.lo < -INT_MAX || draft.hi > INT_MAX) {
      throw this.#error(
        `${draft.kind} can reach ${draft.lo} … ${draft.hi}, outside 32 bits; clamp its operands first`,
      );
    }
    const key = JSON.stringify(draft);
    const known = this.#shared.get(key);
    if (known !== undefined) return known;
    const id = this.#push({ ...draft, name: '' } as LogicNode);
    this.#shared.set(key, id);
    return id;
  }

  #push(node: LogicNode): NodeId {
    this.#program.nodes.push(node);
    return this.#program.nodes.length - 1;
  }

  #node(id: NodeId): LogicNode {
    const node = this.#program.nodes[id];
    if (!node) throw this.#error(`node ${id} does not exist`);
    return node;
  }

  #int(id: NodeId): LogicNode {
    const node = this.#node(id);
    if (node.type !== 'int')
      throw this.#error(`${node.name || node.kind} is a truth value, a number is needed`);
    if (node.hi > INT_MAX) throw this.#error(`${node.name} is a clock reading; only clockSub() may use it`);
    return node;
  }

  #ints(a: NodeId, b: NodeId): [LogicNode, LogicNode] {
    return [this.#int(a), this.#int(b)];
  }

  #nonNegative(id: NodeId, what: string): LogicNode {
    const node = this.#int(id);
    if (node.lo < 0) throw this.#error(`${what} needs an operand ≥ 0, this one reaches ${node.lo}`);
    return node;
  }

  #bool(id: NodeId): void {
    const node = this.#node(id);
    if (node.type !== 'bool')
      throw this.#error(`${node.name || node.kind} is a number, a truth value is needed`);
  }

  #error(text: string): LogicError {
    return new LogicError(`program ${this.#program.name}: ${text}`);
  }
}

/** Bits needed to hold 0 … value, at least 1. */
export function bitsFor(value: number): number {
  return Math.max(1, 32 - Math.clz32(value));
}

/** Checks the points and computes the slopes. Throws `LogicError` naming the table and the point. */
export function makeTable(name: string, points: readonly (readonly [number, number])[]): Table {
  if (points.length < 2 || points.length > 16)
    throw new LogicError(`table ${name}: 2 to 16 points are possible, found ${points.length}`);
  const x = points.map((p) => p[0]);
  const y = points.map((p) => p[1]);
  const m: number[] = [];
  for (let i = 0; i < points.length; i++) {
    const [px, py] = points[i] as readonly [number, number];
    if (!Number.isInteger(px) || !Number.isInteger(py) || px < 0 || py < 0) {
      throw new LogicError(`table ${name}, point ${i + 1}: (${px}, ${py}) must be integers ≥ 0`);
    }
    if (i === 0) continue;
    const dx = px - (x[i - 1] as number);
    const dy = py - (y[i - 1] as number);
    if (dx <= 0)
      throw new LogicError(`table ${name}, point ${i + 1}: x = ${px} must be greater than ${x[i - 1]}`);
    m.push(dy >= 0 ? Math.floor((dy * 256) / dx) : Math.ceil((-dy * 256) / dx));
  }
  return { name, x, y, m };
}

/** Value of a table at a ≥ 0, exactly as every reader computes it. */
export function tableValue(t: Table, a: number): number {
  const last = t.x.length - 1;
  if (a <= (t.x[0] as number)) return t.y[0] as number;
  if (a >= (t.x[last] as number)) return t.y[last] as number;
  let i = 0;
  while (a >= (t.x[i + 1] as number)) i++;
  const d = a - (t.x[i] as number);
  const [y0, y1, m] = [t.y[i] as number, t.y[i + 1] as number, t.m[i] as number];
  return y1 >= y0 ? y0 + Math.floor((d * m) / 256) : Math.max(y1, y0 - Math.ceil((d * m) / 256));
}
