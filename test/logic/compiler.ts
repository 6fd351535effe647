/** The C compiler for tests: generated programs behind a driver that reads steps and prints what they gave. */
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { cSource, cType } from '../../src/logic/emit-c.ts';
import type { Program } from '../../src/logic/form.ts';

/** Whether the C tests are left out because there is no gcc; under CI that is a failure. */
export const withoutGcc = (() => {
  if (spawnSync('gcc', ['--version']).status === 0) return false;
  if (process.env['CI'] === 'true') throw new Error('gcc is missing: install the Debian package gcc');
  console.log('skipped: the tests of generated C need gcc (Debian package gcc)');
  return true;
})();

export const STRICT = ['-std=c99', '-Wall', '-Wextra', '-Werror', '-pedantic', '-Wconversion'];
export const SANITISED = [...STRICT, '-O1', '-fsanitize=address,undefined', '-fno-sanitize-recover=all'];

/** One step to be computed: which program, its state and its inputs. */
export interface CStep {
  program: number;
  state: ArrayLike<number>;
  inputs: ArrayLike<number>;
}

export interface CProgramFile {
  /** State after `init`, by program. */
  initial(): number[][];
  /** Outputs, then next state, of each step. */
  steps(list: readonly CStep[]): number[][];
  remove(): void;
}

/** Compiles the programs (names must differ) with gcc. `alter` changes the generated text first. */
export function compileC(
  programs: readonly Program[],
  flags: readonly string[],
  alter: (source: string) => string = (source) => source,
): CProgramFile {
  const folder = mkdtempSync(join(tmpdir(), 'logic-'));
  const [source, binary] = [join(folder, 'programs.c'), join(folder, 'programs')];
  writeFileSync(source, `#include <stdio.h>\n${alter(cSource(programs))}\n${driver(programs)}`);
  execFileSync('gcc', [...flags, '-o', binary, source], { stdio: ['ignore', 'ignore', 'pipe'] });
  const run = (numbers: number[]) =>
    execFileSync(binary, { input: `${numbers.join(' ')}\n`, maxBuffer: 2 ** 28 })
      .toString()
      .split('\n')
      .slice(0, -1)
      .map((line) => line.trim().split(' ').filter(Boolean).map(Number));
  return {
    initial: () => run([]).slice(0, programs.length),
    steps: (list) =>
      run(list.flatMap((s) => [s.program, ...Array.from(s.state), ...Array.from(s.inputs)])).slice(
        programs.length,
      ),
    remove: () => rmSync(folder, { recursive: true }),
  };
}

function driver(programs: readonly Program[]): string {
  const runs = programs.map((p) => {
    const read = (field: string, type: string) =>
      `    ${field} = ${type === 'bool' ? 'number() != 0' : `(${type})number()`};`;
    const print = (field: string) => `    printf("%lld ", (long long)${field});`;
    return `static void initial_${p.name}(void)
{
    ${p.name}_state_t state;
    ${p.name}_init(&state);
${p.states.map((s) => print(`state.${s.name}`)).join('\n')}
}

static void run_${p.name}(void)
{
    ${p.name}_in_t in;
    ${p.name}_state_t state;
    ${p.name}_out_t out;
${p.states.map((s) => read(`state.${s.name}`, cType(s))).join('\n')}
${p.inputs.map((i) => read(`in.${i.name}`, cType(i))).join('\n')}
    ${p.name}_step(&in, &state, &out);
${p.outputs.map((o) => print(`out.${o.name}`)).join('\n')}
${p.states.map((s) => print(`state.${s.name}`)).join('\n')}
}
`;
  });
  return `static long long number(void)
{
    long long value = 0;
    if (scanf("%lld", &value) != 1) {
        value = -1;
    }
    return value;
}

${runs.join('\n')}
int main(void)
{
${programs.map((p) => `    initial_${p.name}();\n    puts("");`).join('\n')}
    for (;;) {
        switch (number()) {
${programs.map((p, i) => `        case ${i}:\n            run_${p.name}();\n            break;`).join('\n')}
        default:
            return 0;
        }
        puts("");
    }
}
`;
}

/** Programs renamed so that they can stand in one file. */
export function numbered(programs: readonly Program[]): Program[] {
  return programs.map((p, i) => ({ ...p, name: `${p.name}_${i}` }));
}

/** One altered version of a program's C: its helpers and definitions. */
export interface CVersion {
  declarations: string;
  rest: string;
}

/**
 * Which versions of a program's C give the expected outputs and next states at every row (state, inputs, expected) start
 * as declared, without a report of the address and undefined-behaviour checks; each runs in a process of its own.
 */
export function survivorsOfC(
  program: Program,
  versions: readonly CVersion[],
  rows: readonly number[][],
): boolean[] {
  const folder = mkdtempSync(join(tmpdir(), 'logic-'));
  const [source, binary] = [join(folder, 'versions.c'), join(folder, 'versions')];
  const texts = versions.map(({ declarations, rest }, i) =>
    `${declarations}\n${rest}\n${comparison(program)}`
      .replaceAll(new RegExp(`\\b${program.name}`, 'g'), `version_${i}`)
      .replaceAll(/\bbw_/g, `bw_${i}_`),
  );
  writeFileSync(
    source,
    `#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>
${texts.join('\n')}
static bool (*const starts[])(void) = { ${versions.map((_, i) => `version_${i}_starts`).join(', ')} };
static bool (*const versions[])(const long long *) = { ${versions.map((_, i) => `version_${i}_agrees`).join(', ')} };

int main(void)
{
    enum { WIDTH = ${rows[0]!.length}, ROWS = ${rows.length} };
    long long *numbers = malloc(sizeof(long long) * WIDTH * ROWS);
    if (fread(numbers, sizeof(long long), WIDTH * ROWS, stdin) != WIDTH * ROWS) {
        return 1;
    }
    for (int i = 0; i < ${versions.length}; i++) {
        const pid_t child = fork();
        if (child == 0) {
            if (!starts[i]()) {
                _exit(1);
            }
            for (int row = 0; row < ROWS; row++) {
                if (!versions[i](numbers + row * WIDTH)) {
                    _exit(1);
                }
            }
            _exit(0);
        }
        int status = 0;
        waitpid(child, &status, 0);
        puts(WIFEXITED(status) && WEXITSTATUS(status) == 0 ? "agrees" : "differs");
    }
    free(numbers);
    return 0;
}
`,
  );
  execFileSync(
    'gcc',
    ['-std=gnu99', '-fsanitize=address,undefined', '-fno-sanitize-recover=all', '-o', binary, source],
    {
      stdio: ['ignore', 'ignore', 'pipe'],
    },
  );
  const input = Buffer.from(BigInt64Array.from(rows.flat(), (v) => BigInt(v)).buffer);
  const told = execFileSync(binary, { input, stdio: ['pipe', 'pipe', 'ignore'] })
    .toString()
    .trim()
    .split('\n');
  rmSync(folder, { recursive: true });
  return told.map((line) => line === 'agrees');
}

function comparison(p: Program): string {
  const [inputs, states, outputs] = [p.inputs, p.states, p.outputs];
  const expectedAt = states.length + inputs.length;
  return `static bool ${p.name}_starts(void)
{
    ${p.name}_state_t state;
    ${p.name}_init(&state);
    return ${states.map((s) => `state.${s.name} == ${s.init}`).join(' && ')};
}

static bool ${p.name}_agrees(const long long *row)
{
    ${p.name}_in_t in;
    ${p.name}_state_t state;
    ${p.name}_out_t out;
${states.map((s, i) => `    state.${s.name} = row[${i}];`).join('\n')}
${inputs.map((s, i) => `    in.${s.name} = row[${states.length + i}];`).join('\n')}
    ${p.name}_step(&in, &state, &out);
    return ${[
      ...outputs.map((o, i) => `out.${o.name} == row[${expectedAt + i}]`),
      ...states.map((s, i) => `state.${s.name} == row[${expectedAt + outputs.length + i}]`),
    ].join('\n        && ')};
}
`;
}
