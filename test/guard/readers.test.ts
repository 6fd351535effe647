/** What is run, what is proved and what is flashed compute the same, for a guard with every channel and condition. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BENCH_1, DEMO_SEED, DRIVE_1, record } from '../../demo/generator/index.ts';
import { GatewayRun } from '../../src/bridge/runGateway.ts';
import { gatewayOf, pinCuesOf } from '../../src/build/gatewayOf.ts';
import { loadBuild } from '../../src/build/load.ts';
import { guardFigures } from '../../src/guard/figures.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { openSolver, type Solver } from '../../src/logic/solver.ts';
import { CaptureEvents } from '../firmware/events.ts';
import { withoutGcc } from '../logic/compiler.ts';
import { fullPlan } from './plan.ts';
import { GuardC, interpreterDiffers, type Stretch, solverDiffers, stretches } from './readers.ts';

const SEED = 41;
const PATIENCE_MS = 300_000;
let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

describe(`with directed and random inputs of seed ${SEED}`, () => {
  const figures = guardFigures(fullPlan(), 10);
  const program = guardProgram(figures);
  const stretch = stretches(program, figures, SEED, 100_000).next().value as Stretch;

  test.skipIf(withoutGcc)('C at -O2 and run agree in every output and state of 100,000 steps', () => {
    const c = new GuardC(program);
    expect(c.differs(stretch)).toBe(-1);
    c.remove();
    const other = new GuardC(program, (text) =>
      text.replace(/(command_age <= )(\d+)/, (_, le, n) => `${le}${Number(n) - 1}`),
    );
    expect(other.differs(stretch)).toBeGreaterThan(0);
    other.remove();
  });

  test('the interpreter agrees in every output and state of the first 20,000', () => {
    expect(interpreterDiffers(program, { ...stretch, steps: 20_000 })).toBe(-1);
  });

  test(
    "the solver's text agrees in every node of 40 steps drawn from them",
    async () => {
      const drawn = Array.from({ length: 40 }, (_, i) => (i * 2477 + 13) % stretch.steps);
      expect(await solverDiffers(solver, program, stretch, drawn)).toEqual([]);
    },
    PATIENCE_MS,
  );
});

test.skipIf(withoutGcc)(
  'on every step of both demo recordings run, interpreter and C agree, and the solver on a drawn few',
  { timeout: PATIENCE_MS },
  async () => {
    const { build } = await loadBuild('demo');
    const gateway = gatewayOf(build!);
    const at = gateway.stages.findIndex((stage) => stage.role === 'guard');
    const { program, sources } = gateway.stages[at]!;
    const c = new GuardC(program);
    for (const scenario of [BENCH_1, DRIVE_1]) {
      const events = new CaptureEvents(
        gateway,
        record(scenario, DEMO_SEED),
        pinCuesOf(build!, gateway, scenario.capture),
      );
      const run = new GatewayRun(gateway);
      const rows: Stretch = {
        steps: events.steps,
        start: Float64Array.from(program.states, (s) => s.init),
        inputs: new Float64Array(events.steps * program.inputs.length),
        outputs: new Float64Array(events.steps * program.outputs.length),
        states: new Float64Array(events.steps * program.states.length),
      };
      for (let k = 0; k < rows.steps; k++) {
        const step = events.next();
        for (let i = 0; i < step.frames; i++)
          run.receive(step.bus[i]!, step.id[i]!, step.flags[i]!, step.payload, i * 64, step.length[i]!);
        run.step(step.clockMs, step.pins);
        sources.forEach((source, i) => {
          const value = (() => {
            switch (source.from) {
              case 'pin':
                return step.pins[source.pin]!;
              case 'clock':
                return step.clockMs;
              case 'fixed':
                return source.value;
              case 'stage': {
                expect(source.stage).toBeLessThan(at);
                const { outputs } = gateway.stages[source.stage]!.program;
                return run.outputs(source.stage)[outputs.findIndex((o) => o.name === source.output)]!;
              }
              default:
                throw new Error(`the guard reads ${source.from} itself`);
            }
          })();
          rows.inputs[k * program.inputs.length + i] = value;
        });
        rows.outputs.set(run.outputs(at), k * program.outputs.length);
        rows.states.set(run.state(at), k * program.states.length);
      }
      expect(rows.steps).toBeGreaterThan(1000);
      expect(c.differs(rows)).toBe(-1);
      expect(interpreterDiffers(program, rows)).toBe(-1);
      const drawn = Array.from({ length: 10 }, (_, i) => (i * 7919 + 501) % rows.steps);
      expect(await solverDiffers(solver, program, rows, drawn)).toEqual([]);
    }
    c.remove();
  },
);
