/**
 * A program as SMT-LIB 2 text for a solver: one or several steps, every node in the cone of what is asked for as one
 * `define-fun` over bit-vectors of minimal width. The caller adds assertions over the symbols.
 *
 * A state's value before step k + 1 is its next value of step k cut to the declared width of the state. That is sound
 * only once it is shown that next values stay in the declared range: prove `nextInRange` for every state first, from
 * any state and by induction (it is computed at full width).
 */
import { LogicError } from './error.ts';
import type { LogicNode, NodeId, Program } from './form.ts';
import { cone } from './graph.ts';
import { decodeValue, fit, holds, literal, shapeOf, sortOf, termOf, withinTerm } from './smt-term.ts';

export interface SmtOptions {
  /** How many steps are unrolled, ≥ 1. */
  steps: number;
  /** State before the first step: the initial one, the one given, or any within the declared ranges. */
  start: 'initial' | 'any' | ArrayLike<number>;
  /** Nodes asked for, in every step or by step (0 is the first). */
  roots: readonly NodeId[] | ((step: number) => readonly NodeId[]);
  /** States (positions) asked for after the last step. */
  finalStates?: readonly number[];
  /** Put before every symbol, so that several texts can stand in one query. */
  prefix?: string;
}

export interface SmtSteps {
  /** Declarations, definitions, and assertions that inputs and a free starting state lie in their declared intervals. */
  text: string;
  /** The free symbols: ask for their values to replay a model. */
  free: string[];
  /** Value of a node in a step: a symbol, or a literal for a constant. Throws `LogicError` for one outside the cone. */
  symbol(node: NodeId, step?: number): string;
  inputSymbol(input: number, step?: number): string;
  /** Value of a state before a step; with step = `steps`, after the last. */
  stateSymbol(state: number, step?: number): string;
  /** Truth-valued term: the next value of this state, computed in this step at full width, lies in its declared range. */
  nextInRange(state: number, step?: number): string;
  /** An integer as a literal that may stand beside the symbol of this node (same width and reading). */
  literal(node: NodeId, value: number): string;
  /** The integer that a model value of this node's symbol means. */
  decode(node: NodeId, value: bigint): number;
  /** The integer that a model value of this state's symbol means. */
  decodeState(state: number, value: bigint): number;
  /**
   * Starting state and the inputs of every step out of the values of `free`, ready for the interpreter. What the cone
   * leaves out gets its initial value, or the value of its interval that is nearest to 0.
   */
  trace(values: ReadonlyMap<string, bigint>): { start: Float64Array; inputs: Float64Array[] };
}

export function smtSteps(program: Program, options: SmtOptions): SmtSteps {
  const { steps, start, finalStates = [], prefix = '' } = options;
  const needed = neededBySteps(program, options);
  const nodeOf = (id: NodeId): LogicNode => program.nodes[id] as LogicNode;
  const lines: string[] = [];
  const free: string[] = [];
  const bound = new Set<string>();
  // Numbered among what is asked for, so that a query does not change with parts of the program that it does not read.
  const asked = [...new Set(needed.flatMap((ids) => [...ids]))].sort((a, b) => a - b);
  const number = new Map(asked.map((id, i) => [id, i]));

  function symbol(id: NodeId, step = 0): string {
    const node = nodeOf(id);
    if (!node || !needed[step]?.has(id))
      throw new LogicError(`program ${program.name}: node ${id} is not in the cone of step ${step}`);
    if (node.kind === 'const') return literal(shapeOf(node), node.value);
    if (node.kind === 'input') return inputName(node.input, step);
    if (node.kind === 'state') return stateName(node.state, step);
    return `${prefix}${node.name || node.kind}.${number.get(id)}@${step}`;
  }
  const inputName = (input: number, step: number) => `${prefix}in.${program.inputs[input]?.name}@${step}`;
  const stateName = (state: number, step: number) => `${prefix}state.${program.states[state]?.name}@${step}`;

  function declare(name: string, def: { type: 'int' | 'bool'; lo: number; hi: number }): void {
    const shape = shapeOf(def);
    const within = withinTerm(name, shape, def);
    lines.push(`(declare-const ${name} ${sortOf(shape)})`);
    if (within) lines.push(`(assert ${within})`);
    free.push(name);
    bound.add(name);
  }

  function bindState(state: number, step: number): void {
    const def = program.states[state]!;
    const shape = shapeOf(def);
    const name = stateName(state, step);
    if (step === 0 && start === 'any') {
      declare(name, def);
      return;
    }
    const value =
      step === 0
        ? literal(shape, start === 'initial' ? def.init : ((start as ArrayLike<number>)[state] as number))
        : fit(symbol(def.next, step - 1), shapeOf(nodeOf(def.next)), shape);
    lines.push(`(define-fun ${name} () ${sortOf(shape)} ${value})`);
    bound.add(name);
  }

  for (let step = 0; step < steps; step++) {
    for (const id of needed[step] ?? []) {
      const node = nodeOf(id);
      if (node.kind === 'const') continue;
      if (node.kind === 'input') declare(inputName(node.input, step), node);
      else if (node.kind === 'state') bindState(node.state, step);
      else
        lines.push(
          `(define-fun ${symbol(id, step)} () ${sortOf(shapeOf(node))} ${termOf(node, nodeOf, (a) => symbol(a, step))})`,
        );
    }
  }
  for (const state of new Set(finalStates)) bindState(state, steps);

  function known(list: readonly { name: string }[], what: string, index: number, name: string): string {
    if (!list[index]) throw new LogicError(`program ${program.name} has no ${what} ${index}`);
    if (!bound.has(name))
      throw new LogicError(
        `program ${program.name}: ${what} ${list[index].name} is not in the cone of that step`,
      );
    return name;
  }

  return {
    text: `${lines.join('\n')}\n`,
    free,
    symbol,
    inputSymbol: (input, step = 0) => known(program.inputs, 'input', input, inputName(input, step)),
    stateSymbol: (state, step = 0) => known(program.states, 'state', state, stateName(state, step)),
    nextInRange: (state, step = 0) => {
      const def = program.states[state]!;
      return withinTerm(symbol(def.next, step), shapeOf(nodeOf(def.next)), def) ?? 'true';
    },
    literal: (id, value) => {
      const node = nodeOf(id);
      const shape = shapeOf(node);
      if (!holds(shape, value))
        throw new LogicError(
          `program ${program.name}: ${value} cannot stand beside ${node.name || node.kind} (${node.lo} … ${node.hi})`,
        );
      return literal(shape, value);
    },
    decode: (id, value) => decodeValue(shapeOf(nodeOf(id)), value),
    decodeState: (state, value) => decodeValue(shapeOf(program.states[state]!), value),
    trace: (values) => {
      const read = (
        name: string,
        def: { type: 'int' | 'bool'; lo: number; hi: number },
        otherwise: number,
      ) => {
        const value = values.get(name);
        return value === undefined ? otherwise : decodeValue(shapeOf(def), value);
      };
      return {
        start: Float64Array.from(program.states, (def, i) =>
          typeof start === 'string' ? read(stateName(i, 0), def, def.init) : (start[i] as number),
        ),
        inputs: Array.from({ length: steps }, (_, step) =>
          Float64Array.from(program.inputs, (def, i) =>
            read(inputName(i, step), def, Math.min(Math.max(0, def.lo), def.hi)),
          ),
        ),
      };
    },
  };
}

export interface RangeObligation {
  /** Position of the state. */
  state: number;
  /** The node that gives its next value, which must lie in lo … hi. */
  node: NodeId;
  lo: number;
  hi: number;
  /** True where the interval of the node alone shows it. */
  shown: boolean;
}

/** What must be shown before anything else is believed: each state's next value stays in its declared range. */
export function rangeObligations(program: Program): RangeObligation[] {
  return program.states.map(({ next, lo, hi }, state) => {
    const node = program.nodes[next] as LogicNode;
    return { state, node: next, lo, hi, shown: node.lo >= lo && node.hi <= hi };
  });
}

/** The cone of every step, from the last step backwards: a state that a step reads asks for its next value a step earlier. */
function neededBySteps(program: Program, options: SmtOptions): Set<NodeId>[] {
  const { steps, roots, finalStates = [] } = options;
  if (!Number.isInteger(steps) || steps < 1)
    throw new LogicError(`program ${program.name}: ${steps} steps cannot be unrolled, at least 1 can`);
  const needed: Set<NodeId>[] = [];
  let carried = finalStates.map((state) => program.states[state]!.next);
  for (let step = steps - 1; step >= 0; step--) {
    const asked = typeof roots === 'function' ? roots(step) : roots;
    const nodes = cone(program, [...asked, ...carried]);
    needed[step] = new Set(nodes);
    carried = nodes
      .map((id) => program.nodes[id] as LogicNode)
      .filter((n) => n.kind === 'state')
      .map((n) => program.states[n.state]!.next);
  }
  return needed;
}
