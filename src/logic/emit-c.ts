/**
 * A program as C99 for a microcontroller: structs for inputs, state and outputs, `<name>_init` and `<name>_step`.
 * Integers only, no heap, no recursion, loops bounded by constants, and no arithmetic that could leave 32 bits as long
 * as inputs and state lie in their declared ranges. Field names are the names of the program.
 */
import { constant, declarations } from './c-declarations.ts';
import { StepWriter } from './c-step.ts';
import { type CSupport, supportText } from './c-support.ts';
import type { Program } from './form.ts';

export { cType } from './c-declarations.ts';

export interface CProgram {
  /** Struct types and prototypes; need stdint.h and stdbool.h. */
  declarations: string;
  /** Tables and functions; need the support before them. */
  definitions: string;
  /** Helpers that the definitions call: `supportText` over those of all programs of a file gives each once. */
  support: CSupport[];
}

export function emitC(program: Program): CProgram {
  const writer = new StepWriter(program);
  const step = writer.step();
  const support = writer.helpers().filter((helper) => step.includes(`${helper.name}(`));
  return {
    declarations: `${declarations(program)}\n`,
    definitions: `${[...writer.tables(), initFunction(program), step].join('\n\n')}\n`,
    support,
  };
}

/** Several programs as one file of C that stands alone. */
export function cSource(programs: readonly Program[]): string {
  const parts = programs.map(emitC);
  return [
    '#include <stdbool.h>',
    '#include <stdint.h>',
    '',
    ...parts.map((p) => p.declarations),
    supportText(parts.flatMap((p) => p.support)),
    ...parts.map((p) => p.definitions),
  ].join('\n');
}

function initFunction(program: Program): string {
  const lines = program.states.map((s) => `    state->${s.name} = ${constant(s, s.init)};`);
  if (lines.length === 0) lines.push('    state->unused = 0;');
  return `void ${program.name}_init(${program.name}_state_t *state)\n{\n${lines.join('\n')}\n}`;
}
