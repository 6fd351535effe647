/** Runs the step of one program of a project's C alone, from any state and inputs. */
import { execFileSync } from 'node:child_process';
import type { Gateway } from '../../src/bridge/gateway.ts';
import type { Program } from '../../src/logic/form.ts';
import { results } from '../../src/logic/graph.ts';
import { interpret } from '../../src/logic/interpret.ts';

/**
 * C that reads words, makes one step of one stage and prints what it says and keeps. Words: stage; 1 to begin from the
 * state after switching on, or 0 and the state; inputs.
 */
export function aloneSource(gateway: Gateway): string {
  const cases = gateway.stages.map(({ program: { name, inputs, states, outputs } }, k) => {
    const lines = [
      `if (next_word() == 1) { ${name}_init(&state); } else {`,
      ...states.map((s) => `state.${s.name} = next_word();`),
      '}',
      ...inputs.map((i) => `in.${i.name} = next_word();`),
      `${name}_step(&in, &state, &out);`,
      ...outputs.map((o) => `printf("%ld\\n", (long)out.${o.name});`),
      ...states.map((s) => `printf("%ld\\n", (long)state.${s.name});`),
    ];
    return `case ${k}: {
  ${name}_in_t in; ${name}_state_t state; ${name}_out_t out;
  memset(&in, 0, sizeof in); memset(&state, 0, sizeof state); memset(&out, 0, sizeof out);
  ${lines.join('\n  ')}
  break;
}`;
  });
  return `#include <stdio.h>
#include <string.h>
#include "gateway.h"
static long next_word(void) { long v = 0; return scanf("%ld", &v) == 1 ? v : 0; }
int main(void) { switch (next_word()) {
${cases.join('\n')}
} return 0; }
`;
}

/** What the C says and keeps in one step of stage k. */
export function stepAlone(
  host: string,
  k: number,
  state: ArrayLike<number> | 'first',
  inputs: ArrayLike<number>,
): number[] {
  const from = state === 'first' ? [1] : [0, ...Array.from(state)];
  const words = [k, ...from, ...Array.from(inputs)].join(' ');
  const text = execFileSync(host, { input: `${words}\n`, encoding: 'utf8' });
  return text.trim().split('\n').filter(Boolean).map(Number);
}

/** What the program says and keeps in the same step. */
export function stepOf(program: Program, state: ArrayLike<number>, inputs: ArrayLike<number>): number[] {
  const { values } = interpret(program, state, inputs);
  return results(program).map((id) => values[id] as number);
}
