/**
 * Speed of logic programs: the compiled form against the plain interpreter and against gcc -O2 on the generated C,
 * in one run over the same inputs, all by processor time. Run: node dist/bench/logic.js
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { approach, clamp, counter, debounce, latch, risingEdge, slew, timer } from '../src/logic/blocks.ts';
import { ProgramBuilder } from '../src/logic/builder.ts';
import { cSource, cType } from '../src/logic/emit-c.ts';
import { pack } from '../src/logic/fields.ts';
import type { Program } from '../src/logic/form.ts';
import { initialState, interpret } from '../src/logic/interpret.ts';
import { scaleRatio } from '../src/logic/ratio.ts';
import { compile } from '../src/logic/run.ts';

const SEED = 20261125;
const VECTORS = 1024;
const STEPS = 4_000_000;
const PLAIN_STEPS = 20_000;
const ROUNDS = 3;

const program = limiters(5);
const vectors = drawVectors(program);
console.log(
  `seed ${SEED}; program of ${program.nodes.length} nodes, ${program.states.length} states, ${program.inputs.length} inputs, ${program.outputs.length} outputs`,
);

const compiled = best(ROUNDS, () => runCompiled(STEPS));
const plain = best(ROUNDS, () => runPlain(PLAIN_STEPS));
report('compiled JavaScript', compiled);
report('plain interpreter', plain);
console.log(`compiled : interpreter = ${(compiled / plain).toFixed(0)} : 1`);
const native = runNative(STEPS);
if (native === null) console.log('gcc is not here (Debian package gcc): no figure for generated C');
else {
  report('generated C, gcc -O2', native.stepsPerSecond);
  console.log(`compiled : gcc -O2 = ${(compiled / native.stepsPerSecond).toFixed(2)} : 1`);
  const sum = checksum(STEPS);
  console.log(
    sum === native.sum ? `same outputs (sum ${sum})` : `DIFFERENT outputs: ${sum} and ${native.sum}`,
  );
  if (sum !== native.sum) process.exitCode = 1;
}

function report(what: string, stepsPerSecond: number): void {
  console.log(`${what}: ${(stepsPerSecond / 1e6).toFixed(3)} million steps/s`);
}

/** Limiters side by side in the manner of a guard, some 65 nodes each. Figures invented. */
function limiters(count: number): Program {
  const b = new ProgramBuilder('limiters', 'Several limiters side by side.');
  const now = b.inputClock('now_ms');
  const before = b.stateClock('before_ms', 0);
  b.next(before, now);
  const late = b.lt(b.const(12), b.clockSub(now, before, 1000));
  const speed = scaleRatio(b, b.input('speed_raw', 0, 8191), 100 / 3.6 / 64, 0, 0, 6000);
  const brake = b.inputBool('brake');
  const button = b.inputBool('button');
  const press = risingEdge(b, 'button_before', button);
  for (let k = 0; k < count; k++) {
    const raw = b.input(`asked_${k}`, -2048, 2047);
    const hand = b.input(`hand_${k}`, -1024, 1023);
    const fresh = b.inputBool(`fresh_${k}`);
    const asked = scaleRatio(b, raw, 0.37 + k / 10, 0, -500, 500);
    const level = b.table(speed, `level_${k}`, [
      [0, 400 + k],
      [300, 400],
      [1000, 250],
      [2500, 90],
      [6000, 40],
    ]);
    const allowed = slew(b, `level_held_${k}`, level, { lo: 0, hi: 500, init: 40, step: b.const(5) });
    const silent = timer(b, `silent_${k}`, b.not(fresh), 6);
    const steered = debounce(b, `steers_${k}`, b.lt(b.const(300 + k), b.abs(hand)), 3);
    const fault = b.or(late, silent.elapsed, b.lt(b.const(480), b.abs(asked)));
    const tripped = latch(b, `tripped_${k}`, fault, b.and(b.not(button), b.not(fault), brake), {
      wins: 'set',
    });
    const armed = latch(b, `armed_${k}`, b.and(press, b.not(brake)), b.or(tripped, steered), {
      wins: 'reset',
    });
    const torqueBefore = b.state(`torque_${k}`, -500, 500, 0);
    const moved = approach(b, torqueBefore, b.select(armed, asked, b.const(0)), b.const(8));
    const torque = clamp(b, b.clamp(moved, b.sub(b.const(0), allowed), allowed), -500, 500);
    b.next(torqueBefore, torque);
    const count = counter(b, `count_${k}`, b.not(late), { bits: 4, skip: [15] });
    const bytes = pack(b, 3, [
      { field: { start: 0, length: 11, byteOrder: 'little', signed: true }, value: torque },
      { field: { start: 11, length: 1, byteOrder: 'little', signed: false }, value: armed },
      { field: { start: 16, length: 4, byteOrder: 'little', signed: false }, value: count },
    ]);
    bytes.forEach((byte, i) => {
      b.output(`byte_${k}_${i}`, byte);
    });
    b.output(
      `check_${k}`,
      b.crc(bytes, { width: 8, poly: 0x1d, init: 0xff, xorout: 0xff, reflected: false }),
    );
  }
  return b.finish();
}

/** Inputs of many steps: the clock goes on by 10 ms, truth values stay for a while, numbers wander. */
function drawVectors(p: Program): Float64Array[] {
  let state = SEED >>> 0;
  const below = (n: number) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * n);
  };
  let last = p.inputs.map(({ lo }) => lo);
  return Array.from({ length: VECTORS }, (_, step) => {
    last = p.inputs.map(({ type, lo, hi }, i) => {
      if (hi > 2 ** 31) return (step * 10) % 2 ** 32;
      if (type === 'bool') return below(20) === 0 ? below(2) : last[i]!;
      return Math.min(hi, Math.max(lo, last[i]! + below((hi - lo) / 16) - Math.floor((hi - lo) / 33)));
    });
    return Float64Array.from(last);
  });
}

function best(rounds: number, run: () => number): number {
  return Math.max(...Array.from({ length: rounds }, run));
}

function runCompiled(steps: number): number {
  const { initial, step } = compile(program);
  const [state, outputs] = [initial(), new Float64Array(program.outputs.length)];
  const start = process.cpuUsage();
  for (let i = 0; i < steps; i++) step(state, vectors[i % VECTORS]!, outputs);
  return steps / secondsSince(start);
}

function runPlain(steps: number): number {
  let state = initialState(program);
  const start = process.cpuUsage();
  for (let i = 0; i < steps; i++) state = interpret(program, state, vectors[i % VECTORS]!).next;
  return steps / secondsSince(start);
}

/** Processor time of this process, which a busy machine does not lengthen as it does time by the clock. */
function secondsSince(start: NodeJS.CpuUsage): number {
  const { user, system } = process.cpuUsage(start);
  return (user + system) / 1e6;
}

function checksum(steps: number): number {
  const { initial, step } = compile(program);
  const [state, outputs] = [initial(), new Float64Array(program.outputs.length)];
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    step(state, vectors[i % VECTORS]!, outputs);
    for (let k = 0; k < outputs.length; k++) sum = (Math.imul(sum, 31) + outputs[k]!) >>> 0;
  }
  return sum;
}

/** The same steps in C, timed inside the process; the sum of outputs is taken in a second pass. */
function runNative(steps: number): { stepsPerSecond: number; sum: number } | null {
  const folder = mkdtempSync(join(tmpdir(), 'bench-logic-'));
  try {
    const [source, binary] = [join(folder, 'bench.c'), join(folder, 'bench')];
    writeFileSync(source, nativeSource(steps));
    execFileSync('gcc', ['-std=c99', '-O2', '-o', binary, source]);
    const runs = Array.from({ length: ROUNDS }, () =>
      execFileSync(binary).toString().trim().split(' ').map(Number),
    );
    return { stepsPerSecond: Math.max(...runs.map((r) => steps / r[0]!)), sum: runs[0]![1]! };
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function nativeSource(steps: number): string {
  const rows = vectors.map(
    (v) => `{ ${program.inputs.map((d, i) => `${v[i]}${cType(d) === 'uint32_t' ? 'u' : ''}`).join(', ')} }`,
  );
  return `#include <stdio.h>
#include <time.h>
${cSource([program])}
static const limiters_in_t vectors[${VECTORS}] = {
${rows.join(',\n')}
};

int main(void)
{
    limiters_state_t state;
    limiters_out_t out;
    uint32_t sum = 0;
    limiters_init(&state);
    const clock_t start = clock();
    for (int32_t i = 0; i < ${steps}; i++) {
        limiters_step(&vectors[i % ${VECTORS}], &state, &out);
    }
    const double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
    limiters_init(&state);
    for (int32_t i = 0; i < ${steps}; i++) {
        limiters_step(&vectors[i % ${VECTORS}], &state, &out);
${program.outputs.map((o) => `        sum = sum * 31u + (uint32_t)out.${o.name};`).join('\n')}
    }
    printf("%f %u\\n", seconds, (unsigned)sum);
    return 0;
}
`;
}
