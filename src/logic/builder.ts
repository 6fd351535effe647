/**
 * Builds logic programs node by node, keeps the intervals, and refuses what could leave 32 bits.
 * Equal nodes are shared and constants are folded; the result is a plain `Program`.
 */
import { CLOCK_MAX, INT_MAX, LogicError } from './error.ts';
import type { LogicNode, NodeId, NodeType, Program, StateDef } from './form.ts';
import { operands } from './graph.ts';
import { evaluate } from './interpret.ts';
import { intervalOf } from './interval.ts';
import { makeTable } from './table.ts';
import { isReserved } from './words.ts';

export { CLOCK_MAX, INT_MAX, LogicError } from './error.ts';

/** A node without its name and interval. */
type Draft = LogicNode extends infer N
  ? N extends LogicNode
    ? Omit<N, 'name' | 'lo' | 'hi'> & { name?: string; lo?: number; hi?: number }
    : never
  : never;

export class ProgramBuilder {
  readonly #program: Program;
  readonly #shared = new Map<string, NodeId>();
  readonly #pending = new Set<number>();

  constructor(name: string, note: string) {
    if (!/^[a-z][a-z0-9_]*$/.test(name))
      throw new LogicError(
        `program name "${name}": lower-case letters, digits and _ are possible, a letter first`,
      );
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

  /** State that holds a reading of the millisecond clock; its next value must be a clock reading. */
  stateClock(name: string, init: number, note = ''): NodeId {
    return this.#newState(name, 'int', 0, CLOCK_MAX, init, note);
  }

  /**
   * Sets the value that a state takes after this step. The value's interval may be wider than the state's, where it
   * takes the other states to see that it stays inside: then that is an obligation (see `rangeObligations`).
   */
  next(state: NodeId, value: NodeId): void {
    const node = this.#node(state);
    if (node.kind !== 'state') throw this.#error('next() needs a state');
    const def = this.#program.states[node.state] as StateDef;
    const { type, lo, hi } = this.#node(value);
    if (type !== def.type) throw this.#error(`next value of ${def.name} has the wrong type`);
    if (hi > INT_MAX !== def.hi > INT_MAX)
      throw this.#error(`${def.name}: a clock reading is kept in a clock state, and nothing else is`);
    if (hi < def.lo || lo > def.hi)
      throw this.#error(`next value of ${def.name} is ${lo} … ${hi}, always outside ${def.lo} … ${def.hi}`);
    def.next = value;
    this.#pending.delete(node.state);
  }

  output(name: string, node: NodeId, note = ''): void {
    this.#checkName(name);
    this.#node(node);
    if (this.#program.outputs.some((o) => o.name === name))
      throw this.#error(`output ${name} is there twice`);
    this.#program.outputs.push({ name, node, note });
  }

  /**
   * Gives a node the name under which C and traces show it, and a note (unit and meaning) for comments. Returns the
   * node; a constant gets a node of its own, so that the name stays with this use of the number. Where equal nodes were
   * shared, the first name stays.
   */
  named(name: string, id: NodeId, note = ''): NodeId {
    this.#checkName(name);
    const node = this.#node(id);
    if (node.kind === 'const') {
      const { type, value } = node;
      return this.#add({ kind: 'const', type, value, name, ...(note && { note }) });
    }
    if (node.name !== '') return id;
    node.name = name;
    if (note) node.note = note;
    return id;
  }

  const(value: number): NodeId {
    if (!Number.isInteger(value)) throw this.#error(`constant ${value} is not an integer`);
    return this.#add({ kind: 'const', type: 'int', value: value + 0 });
  }

  bool(value: boolean): NodeId {
    return this.#add({ kind: 'const', type: 'bool', value: value ? 1 : 0 });
  }

  add(a: NodeId, b: NodeId): NodeId {
    const [x, y] = this.#ints(a, b);
    if (isNumber(x)) return this.#plus(b, x.value);
    if (isNumber(y)) return this.#plus(a, y.value);
    return this.#add({ kind: 'add', type: 'int', a, b });
  }

  sub(a: NodeId, b: NodeId): NodeId {
    const [, y] = this.#ints(a, b);
    if (isNumber(y)) return this.#plus(a, -y.value);
    return this.#add({ kind: 'sub', type: 'int', a, b });
  }

  mulk(a: NodeId, k: number): NodeId {
    this.#int(a);
    if (!Number.isInteger(k) || Math.abs(k) > INT_MAX)
      throw this.#error(`factor ${k} is not an integer of 32 bits`);
    if (k === 0) return this.const(0);
    if (k === 1) return a;
    return this.#add({ kind: 'mulk', type: 'int', a, k });
  }

  divk(a: NodeId, k: number): NodeId {
    this.#nonNegative(a, 'divk');
    if (!Number.isInteger(k) || k < 1 || k > INT_MAX)
      throw this.#error(`divisor ${k} is not a positive integer of 32 bits`);
    if (k === 1) return a;
    return this.#add({ kind: 'divk', type: 'int', a, k });
  }

  wrap(a: NodeId, bits: number): NodeId {
    const x = this.#nonNegative(a, 'wrap');
    if (!Number.isInteger(bits) || bits < 1 || bits > 31)
      throw this.#error(`wrap to ${bits} bits: 1 to 31 are possible`);
    if (x.hi < 2 ** bits) return a;
    return this.#add({ kind: 'wrap', type: 'int', a, bits });
  }

  xor(a: NodeId, b: NodeId): NodeId {
    this.#nonNegative(a, 'xor');
    this.#nonNegative(b, 'xor');
    return this.#add({ kind: 'xor', type: 'int', a, b });
  }

  min(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    if (a === b) return a;
    return this.#add({ kind: 'min', type: 'int', a, b });
  }

  max(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    if (a === b) return a;
    return this.#add({ kind: 'max', type: 'int', a, b });
  }

  lt(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    if (a === b) return this.bool(false);
    return this.#add({ kind: 'lt', type: 'bool', a, b });
  }

  le(a: NodeId, b: NodeId): NodeId {
    this.#ints(a, b);
    if (a === b) return this.bool(true);
    return this.#add({ kind: 'le', type: 'bool', a, b });
  }

  eq(a: NodeId, b: NodeId): NodeId {
    const [x, y] = [this.#node(a), this.#node(b)];
    if (x.type !== y.type) throw this.#error('eq() of different types');
    if (x.type === 'int') this.#ints(a, b);
    if (a === b) return this.bool(true);
    if (x.type === 'bool' && x.kind === 'const') return x.value === 1 ? b : this.not(b);
    if (y.type === 'bool' && y.kind === 'const') return y.value === 1 ? a : this.not(a);
    return this.#add({ kind: 'eq', type: 'bool', a, b });
  }

  and(first: NodeId, ...rest: NodeId[]): NodeId {
    return rest.reduce((a, b) => this.#logical('and', a, b), first);
  }

  or(first: NodeId, ...rest: NodeId[]): NodeId {
    return rest.reduce((a, b) => this.#logical('or', a, b), first);
  }

  not(a: NodeId): NodeId {
    const x = this.#bool(a);
    if (x.kind === 'not') return x.a;
    return this.#add({ kind: 'not', type: 'bool', a });
  }

  select(when: NodeId, yes: NodeId, no: NodeId): NodeId {
    const w = this.#bool(when);
    const y = this.#node(yes);
    const n = this.#node(no);
    if (y.type !== n.type) throw this.#error('select() between different types');
    if (w.kind === 'const') return w.value === 1 ? yes : no;
    if (yes === no) return yes;
    if (w.kind === 'not') return this.select(w.a, no, yes);
    if (y.type === 'bool' && y.kind === 'const')
      return y.value === 1 ? this.or(when, no) : this.and(this.not(when), no);
    if (n.type === 'bool' && n.kind === 'const')
      return n.value === 1 ? this.or(this.not(when), yes) : this.and(when, yes);
    return this.#add({ kind: 'select', type: y.type, when, yes, no });
  }

  /** Milliseconds from clock reading b to a, correct across the wrap at 2³²; anything above `cap` reads as `cap`. */
  clockSub(a: NodeId, b: NodeId, cap: number): NodeId {
    for (const node of [this.#node(a), this.#node(b)]) {
      if ((node.kind !== 'input' && node.kind !== 'state') || node.hi !== CLOCK_MAX)
        throw this.#error('clockSub() takes clock inputs and clock states only');
    }
    if (!Number.isInteger(cap) || cap < 0) throw this.#error(`clockSub() cannot be cut off at ${cap}`);
    return this.#add({ kind: 'clockSub', type: 'int', lo: 0, hi: cap, a, b });
  }

  /** Piecewise linear table; points as [x, y] pairs, x rising, y ≥ 0. */
  table(a: NodeId, name: string, points: readonly (readonly [number, number])[]): NodeId {
    this.#checkName(name);
    this.#nonNegative(a, `table ${name}`);
    return this.#add({ kind: 'table', type: 'int', a, table: makeTable(name, points) });
  }

  /** CRC over byte nodes in order; parameters as in can/check.ts. */
  crc(
    bytes: readonly NodeId[],
    p: { width: 8 | 16; poly: number; init: number; xorout: number; reflected: boolean },
  ): NodeId {
    const { width, poly, init, xorout, reflected } = p;
    if (width !== 8 && width !== 16) throw this.#error(`crc() of ${width} bits: 8 or 16 are possible`);
    if (![poly, init, xorout].every((v) => Number.isInteger(v) && v >= 0 && v < 2 ** width))
      throw this.#error(`crc(): polynomial, start value and final exclusive-or must fit ${width} bits`);
    if (bytes.length === 0) throw this.#error('crc() needs at least one byte');
    for (const id of bytes) {
      const x = this.#int(id);
      if (x.lo < 0 || x.hi > 255) throw this.#error('crc() takes bytes, 0 to 255');
    }
    return this.#add({ kind: 'crc', type: 'int', bytes: [...bytes], width, poly, init, xorout, reflected });
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

  type(id: NodeId): NodeType {
    return this.#node(id).type;
  }

  finish(): Program {
    for (const s of this.#pending)
      throw this.#error(`state ${this.#program.states[s]?.name} has no next value`);
    return this.#program;
  }

  #newInput(name: string, type: NodeType, lo: number, hi: number, note: string): NodeId {
    this.#freshName(name);
    this.#checkRange(name, lo, hi);
    this.#program.inputs.push({ name, type, lo, hi, note });
    return this.#push({ kind: 'input', type, lo, hi, input: this.#program.inputs.length - 1, name });
  }

  #newState(name: string, type: NodeType, lo: number, hi: number, init: number, note: string): NodeId {
    this.#freshName(name);
    this.#checkRange(name, lo, hi);
    if (!Number.isInteger(init)) throw this.#error(`state ${name} starts at ${init}, not an integer`);
    if (init < lo || init > hi) throw this.#error(`state ${name} starts at ${init}, outside ${lo} … ${hi}`);
    const index = this.#program.states.length;
    this.#program.states.push({ name, type, lo, hi, init, next: -1, note });
    this.#pending.add(index);
    return this.#push({ kind: 'state', type, lo, hi, state: index, name });
  }

  #freshName(name: string): void {
    this.#checkName(name);
    const taken = [...this.#program.inputs, ...this.#program.states].some((d) => d.name === name);
    if (taken) throw this.#error(`name ${name} is there twice`);
  }

  #checkName(name: string): void {
    if (!/^[a-z][a-z0-9_]*$/.test(name))
      throw this.#error(`name "${name}": lower-case letters, digits and _ are possible, a letter first`);
    if (isReserved(name))
      throw this.#error(`name ${name} is a word of the C language or of its runtime; choose another`);
  }

  #checkRange(name: string, lo: number, hi: number): void {
    const inside = lo >= -INT_MAX && hi <= INT_MAX;
    const clock = lo === 0 && hi === CLOCK_MAX;
    if (!Number.isInteger(lo) || !Number.isInteger(hi) || lo > hi || !(inside || clock))
      throw this.#error(
        `${name}: the range ${lo} … ${hi} must be two integers in order, within ±${INT_MAX} or the clock's 0 … ${CLOCK_MAX}`,
      );
  }

  /** a + constant, taken together with a constant that is already added in a. */
  #plus(a: NodeId, value: number): NodeId {
    const node = this.#node(a);
    if (node.kind === 'add' && node.name === '') {
      const added = this.#node(node.b);
      const sum = isNumber(added) ? added.value + value : Infinity;
      if (Math.abs(sum) <= INT_MAX) return this.#plus(node.a, sum);
    }
    if (value === 0) return a;
    return this.#add({ kind: 'add', type: 'int', a, b: this.const(value) });
  }

  #logical(kind: 'and' | 'or', a: NodeId, b: NodeId): NodeId {
    const x = this.#bool(a);
    const y = this.#bool(b);
    if (a === b) return a;
    const neutral = kind === 'and' ? 1 : 0;
    if (x.kind === 'const') return x.value === neutral ? b : a;
    if (y.kind === 'const') return y.value === neutral ? a : b;
    return this.#add({ kind, type: 'bool', a, b });
  }

  #add(draft: Draft): NodeId {
    const key = JSON.stringify(draft);
    const known = this.#shared.get(key);
    if (known !== undefined) return known;
    const node = { name: '', lo: 0, hi: 0, ...draft } as LogicNode;
    Object.assign(
      node,
      intervalOf(node, (id) => this.#node(id)),
    );
    if (node.lo < -INT_MAX || node.hi > INT_MAX)
      throw this.#error(
        `${node.kind} can reach ${node.lo} … ${node.hi}, outside 32 bits; clamp its operands first`,
      );
    const id = this.#folded(node) ?? this.#push(node);
    this.#shared.set(key, id);
    return id;
  }

  /** The constant that a node over constants only comes to. */
  #folded(node: LogicNode): NodeId | null {
    const read = operands(node).map((id) => this.#node(id));
    if (read.length === 0 || !read.every((n) => n.kind === 'const')) return null;
    const value = evaluate(node, (id) => this.#node(id).lo, [], []);
    return node.type === 'bool' ? this.bool(value === 1) : this.const(value);
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

  #bool(id: NodeId): LogicNode {
    const node = this.#node(id);
    if (node.type !== 'bool')
      throw this.#error(`${node.name || node.kind} is a number, a truth value is needed`);
    return node;
  }

  #error(text: string): LogicError {
    return new LogicError(`program ${this.#program.name}: ${text}`);
  }
}

/** A constant without a name of its own. */
function isNumber(node: LogicNode): node is LogicNode & { kind: 'const' } {
  return node.kind === 'const' && node.name === '';
}
