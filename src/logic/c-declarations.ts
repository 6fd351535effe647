/** What the C of a program declares: struct types with their comments, and the heads of its functions. */
import { INT_MAX } from './error.ts';
import type { LogicNode, NodeType, Program } from './form.ts';

/** Type of a value in C: the clock alone is unsigned. */
export function cType(value: { type: NodeType; hi: number }): 'bool' | 'int32_t' | 'uint32_t' {
  if (value.type === 'bool') return 'bool';
  return value.hi > INT_MAX ? 'uint32_t' : 'int32_t';
}

export function declarations(program: Program): string {
  const { name, nodes } = program;
  const ranged = (d: { lo: number; hi: number; type: NodeType; note: string }) =>
    [d.note, d.type === 'int' && d.hi <= INT_MAX ? `${d.lo} to ${d.hi}` : ''].filter(Boolean).join('; ');
  return [
    struct(
      `${name}_in_t`,
      program.inputs.map((d) => ({ ...d, note: ranged(d) })),
    ),
    struct(
      `${name}_state_t`,
      program.states.map((d) => ({ ...d, note: ranged(d) })),
    ),
    struct(
      `${name}_out_t`,
      program.outputs.map((o) => {
        const { type, lo, hi } = nodes[o.node] as LogicNode;
        return { name: o.name, type, hi, note: ranged({ type, lo, hi, note: o.note }) };
      }),
    ),
    `/* The state before the first step. */\nvoid ${name}_init(${name}_state_t *state);`,
    `${wrapped(`/* ${comment(program.note)} */`, '')}\n${stepHead(name)};`,
  ].join('\n\n');
}

function struct(name: string, fields: { name: string; type: NodeType; hi: number; note: string }[]): string {
  const lines = fields.map((f) => {
    const field = `    ${cType(f)} ${f.name};`;
    if (!f.note) return field;
    const remark = `/* ${comment(f.note)} */`;
    return field.length + remark.length < 105 ? `${field} ${remark}` : `${wrapped(remark)}\n${field}`;
  });
  if (lines.length === 0) lines.push('    uint8_t unused; /* a struct of C99 has at least one member */');
  return `typedef struct {\n${lines.join('\n')}\n} ${name};`;
}

/** A comment over as many lines of 100 columns as it needs, indented as within a function unless told otherwise. */
export function wrapped(remark: string, indent = '    '): string {
  const lines = [indent];
  for (const word of remark.split(' ')) {
    const line = lines.at(-1) as string;
    if (line.trim() === '') lines[lines.length - 1] = line + word;
    else if (`${line} ${word}`.length > 100) lines.push(`${indent}   ${word}`);
    else lines[lines.length - 1] = `${line} ${word}`;
  }
  return lines.join('\n');
}

export function stepHead(name: string): string {
  const parameters = [`const ${name}_in_t *in`, `${name}_state_t *state`, `${name}_out_t *out`];
  const line = `void ${name}_step(${parameters.join(', ')})`;
  return line.length < 100 ? line : `void ${name}_step(\n    ${parameters.join(',\n    ')})`;
}

export function constant(value: { type: NodeType; hi: number }, v: number): string {
  if (value.type === 'bool') return v === 0 ? 'false' : 'true';
  return value.hi > INT_MAX ? `${v}u` : `${v}`;
}

/** Text that cannot end or open a comment, nor spell a trigraph. */
export function comment(text: string): string {
  return text
    .replace(/\s+/g, ' ')
    .replaceAll('*/', '* /')
    .replaceAll('/*', '/ *')
    .replaceAll('??', '? ?')
    .trim();
}
