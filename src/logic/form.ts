/**
 * The logic program: the one small integer dataflow form from which the simulator, the proof and the C are all made.
 *
 * A program runs once per step. It reads inputs and its own state, computes nodes over mathematical integers in the
 * order of the list (every operand stands before its use), gives outputs and the next state. Every node carries an
 * interval that its value cannot leave; the builder refuses a node that could leave ±(2³¹ − 1), so 32-bit arithmetic
 * is exact in C and no reader needs to think about overflow. The only modular values are the clock (`clockSub`) and
 * what `wrap` produces.
 */

/** Index of a node in `Program.nodes`. */
export type NodeId = number;

export type NodeType = 'int' | 'bool';

interface Base {
  type: NodeType;
  /** Interval of the value; 0 … 1 for bool. */
  lo: number;
  hi: number;
  /** Name shown in C, traces and counterexamples; empty for an intermediate value. */
  name: string;
  /** Unit and meaning for the comment beside the name. */
  note?: string;
}

export type LogicNode = Base &
  (
    | { kind: 'const'; value: number }
    | { kind: 'input'; input: number }
    | { kind: 'state'; state: number }
    | { kind: 'add' | 'sub' | 'min' | 'max'; a: NodeId; b: NodeId }
    /** a × k, k constant. */
    | { kind: 'mulk'; a: NodeId; k: number }
    /** floor(a / k), a ≥ 0, k a positive constant. */
    | { kind: 'divk'; a: NodeId; k: number }
    /** a mod 2^bits, a ≥ 0: the low bits of a. */
    | { kind: 'wrap'; a: NodeId; bits: number }
    /** Bitwise exclusive-or of two values ≥ 0. */
    | { kind: 'xor'; a: NodeId; b: NodeId }
    | { kind: 'lt' | 'le' | 'eq'; a: NodeId; b: NodeId }
    | { kind: 'and' | 'or'; a: NodeId; b: NodeId }
    | { kind: 'not'; a: NodeId }
    | { kind: 'select'; when: NodeId; yes: NodeId; no: NodeId }
    /** (a − b) mod 2³² of two clock readings, cut off at `hi`; a and b are inputs or states of the full 32-bit range. */
    | { kind: 'clockSub'; a: NodeId; b: NodeId }
    /** Piecewise linear table over a ≥ 0; see `Table` for the exact rounding. */
    | { kind: 'table'; a: NodeId; table: Table }
    /** CRC over bytes (each 0 … 255) in order; parameters as in can/check.ts, width 8 or 16, without the check's own field. */
    | {
        kind: 'crc';
        bytes: NodeId[];
        width: number;
        poly: number;
        init: number;
        xorout: number;
        reflected: boolean;
      }
  );

/**
 * Points (x, y), x rising, 2 … 16 of them, integers ≥ 0. Value at a, with x[i] ≤ a < x[i+1]:
 * y[i] + floor(d × m[i] / 256) for rising segments, y[i] − ceil(d × m[i] / 256) bounded below by y[i+1] for falling ones,
 * d = a − x[i], m[i] = slope in 1/256 (rising: rounded down; falling: rounded up), so that a limit is never rounded upwards.
 * Before the first point y[0], at and after the last y[last].
 */
export interface Table {
  name: string;
  x: number[];
  y: number[];
  /** |slope| of each segment × 256, one fewer than points. Computed by the builder. */
  m: number[];
}

export interface InputDef {
  name: string;
  type: NodeType;
  lo: number;
  hi: number;
  /** Unit and meaning for comments: "0.01 m/s", "1 = pressed". */
  note: string;
}

export interface StateDef {
  name: string;
  type: NodeType;
  lo: number;
  hi: number;
  init: number;
  /** Node that gives the value after this step. */
  next: NodeId;
  note: string;
}

export interface OutputDef {
  name: string;
  node: NodeId;
  note: string;
}

export interface Program {
  /** Name in C and in traces: lower-case words with underscores, unique in a gateway. */
  name: string;
  /** One sentence: what it does. Becomes the comment above the C function. */
  note: string;
  inputs: InputDef[];
  states: StateDef[];
  nodes: LogicNode[];
  outputs: OutputDef[];
}
