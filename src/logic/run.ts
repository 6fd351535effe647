/**
 * The fast reader of a logic program: one generated JavaScript function per program, every node a local, no array and
 * no object between them.
 */
import { crcStart, crcTable } from '../can/crc.ts';
import { INT_MAX } from './error.ts';
import type { LogicNode, NodeId, Program, Table } from './form.ts';
import { cone, results } from './graph.ts';
import { initialState } from './interpret.ts';

/**
 * A program made ready to run. Arrays are by position, as `program.inputs`, `.states` and `.outputs`; truth values are
 * 0 and 1, clock readings 0 … 2³² − 1. Inputs must lie in their declared intervals: nothing is checked here.
 */
export interface CompiledProgram {
  program: Program;
  /** A fresh state before the first step. */
  initial(): Float64Array;
  /** One step: reads `inputs` and `state`, writes `outputs` and the new `state`. */
  step(state: Float64Array, inputs: Float64Array, outputs: Float64Array): void;
}

export function compile(program: Program): CompiledProgram {
  return compiledFrom(program, emitJs(program));
}

/** JavaScript text of the body of the step function; parameters `s` (state), `i` (inputs), `o` (outputs), `t` (CRC tables). */
export function emitJs(program: Program): string {
  const lines = ['let r = 0;', ...cone(program, results(program)).map((id) => statement(program, id))];
  program.states.forEach((s, k) => {
    lines.push(`s[${k}] = v${s.next};`);
  });
  program.outputs.forEach((o, k) => {
    lines.push(`o[${k}] = v${o.node};`);
  });
  return `${lines.join('\n')}\n`;
}

/** A program made ready to run from the text of `emitJs`; apart so that tests can alter the text. */
export function compiledFrom(program: Program, body: string): CompiledProgram {
  const tables = program.nodes.map((n) => (n.kind === 'crc' ? Int32Array.from(crcTable(n)) : null));
  const make = new Function('t', `'use strict';\nreturn function step(s, i, o) {\n${body}};`);
  const step = make(tables) as CompiledProgram['step'];
  return { program, initial: () => initialState(program), step };
}

/** Values are 32-bit integers, truth values 0 and 1, the clock alone is unsigned. */
function statement(program: Program, id: NodeId): string {
  const n = program.nodes[id] as LogicNode;
  const value = (text: string) => `const v${id} = ${text};`;
  switch (n.kind) {
    case 'const':
      return value(`${n.value}`);
    case 'input':
      return value(`i[${n.input}] ${n.hi > INT_MAX ? '>>> 0' : '| 0'}`);
    case 'state':
      return value(`s[${n.state}] ${n.hi > INT_MAX ? '>>> 0' : '| 0'}`);
    case 'add':
      return value(`(v${n.a} + v${n.b}) | 0`);
    case 'sub':
      return value(`(v${n.a} - v${n.b}) | 0`);
    case 'mulk':
      return value(`Math.imul(v${n.a}, ${n.k})`);
    case 'divk':
      return value(
        Number.isInteger(Math.log2(n.k)) ? `v${n.a} >> ${Math.log2(n.k)}` : `(v${n.a} / ${n.k}) | 0`,
      );
    case 'wrap':
      return value(`v${n.a} & ${2 ** n.bits - 1}`);
    case 'xor':
      return value(`v${n.a} ^ v${n.b}`);
    case 'min':
      return value(`v${n.a} < v${n.b} ? v${n.a} : v${n.b}`);
    case 'max':
      return value(`v${n.a} > v${n.b} ? v${n.a} : v${n.b}`);
    case 'lt':
      return value(`v${n.a} < v${n.b} ? 1 : 0`);
    case 'le':
      return value(`v${n.a} <= v${n.b} ? 1 : 0`);
    case 'eq':
      return value(`v${n.a} === v${n.b} ? 1 : 0`);
    case 'and':
      return value(`v${n.a} & v${n.b}`);
    case 'or':
      return value(`v${n.a} | v${n.b}`);
    case 'not':
      return value(`v${n.a} ^ 1`);
    case 'select':
      return value(`v${n.when} ? v${n.yes} : v${n.no}`);
    case 'clockSub': {
      const elapsed = `const e${id} = (v${n.a} - v${n.b}) >>> 0;`;
      return `${elapsed} ${value(`e${id} < ${n.hi} ? e${id} : ${n.hi}`)}`;
    }
    case 'table':
      return value(tableText(n.table, `v${n.a}`));
    case 'crc':
      return value(crcText(n, id));
  }
}

/** Nested choice over the segments; `>> 8` is floor(… / 256). */
function tableText(t: Table, a: string): string {
  const [x, y] = [t.x as number[], t.y as number[]];
  const segments = t.m.map((m, i) => {
    const [x0, y0, y1] = [x[i]!, y[i]!, y[i + 1]!];
    const product = `Math.imul(${a} - ${x0}, ${m})`;
    const inside =
      y1 >= y0
        ? `(${y0} + (${product} >> 8)) | 0`
        : `Math.max(${y1}, (${y0} - ((${product} + 255) >> 8)) | 0)`;
    return `${a} < ${x[i + 1]} ? ${inside} : `;
  });
  return `${a} <= ${x[0]} ? ${y[0]} : ${segments.join('')}${y[y.length - 1]}`;
}

function crcText(n: LogicNode & { kind: 'crc' }, id: NodeId): string {
  const shift = n.width - 8;
  const start = `${crcStart(n)}`;
  const register = n.bytes.reduce((crc, byte) => {
    if (n.reflected) return `(((r = ${crc}) >> 8) ^ t[${id}][(r ^ v${byte}) & 255])`;
    return `(((r = ${crc}) << 8 & ${2 ** n.width - 1}) ^ t[${id}][((r >> ${shift}) ^ v${byte}) & 255])`;
  }, start);
  return `${register} ^ ${n.xorout}`;
}
