/** The C of a project against the run of its gateway: every output and every state of every step, and every frame sent. */
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BENCH_1, DEMO_SEED, DRIVE_1, record } from '../../demo/generator/index.ts';
import type { Gateway } from '../../src/bridge/gateway.ts';
import { gatewayOf, pinCuesOf } from '../../src/build/gatewayOf.ts';
import { loadBuild } from '../../src/build/load.ts';
import type { ProjectForm } from '../../src/firmware/head.ts';
import { firmwareProject, writtenGateway } from '../../src/firmware/project.ts';
import { MODES, modeNumber } from '../../src/guard/inputs.ts';
import { CaptureEvents, type Events, Scenario } from './events.ts';
import {
  EventFile,
  firstDifference,
  gccThere,
  HashingRun,
  hashesOf,
  provedFor,
  RUNTIME,
  Workshop,
} from './harness.ts';
import { van } from './van.ts';

const SEED = 20265;
const STEPS = 1_000_000;
const there = gccThere();
const workshop = new Workshop();
afterAll(() => workshop.end());

const { gateway, dictionaries, guard } = van();
const scenario = (written: Gateway) => () => new Scenario(written, dictionaries, guard, SEED);

interface Played {
  written: Gateway;
  path: string;
  hashes: Uint32Array;
  /** Steps in each of the guard's modes, and how often it armed. */
  modes: number[];
  arms: number;
}

/** Plays events through the run, and keeps them in a file for the C. */
function played(
  name: string,
  written: Gateway,
  events: Events,
  steps: number,
  look?: (run: HashingRun) => void,
): Played {
  const file = new EventFile(join(workshop.folder, name), written);
  const run = new HashingRun(written);
  const mode = run.names.indexOf('guard.mode');
  const modes: number[] = MODES.map(() => 0);
  const hashes = new Uint32Array(steps);
  let arms = 0;
  let before = 0;
  for (let k = 0; k < steps; k++) {
    const step = events.next();
    file.add(step);
    hashes[k] = run.step(step);
    const now = run.values[mode] as number;
    modes[now]!++;
    if (now === modeNumber('armed') && before !== now) arms++;
    before = now;
    look?.(run);
  }
  file.close();
  return { written, path: file.path, hashes, modes, arms };
}

function projectOf(written: Gateway, form: ProjectForm, name: string): string {
  return workshop.write(name, firmwareProject(written, form, provedFor(written), RUNTIME));
}

describe.skipIf(!there)(`with random traffic of seed ${SEED}`, () => {
  let random: Played;
  let folder: string;
  beforeAll(() => {
    const written = writtenGateway(gateway, 'armable');
    folder = projectOf(gateway, 'armable', 'armable');
    random = played('random', written, scenario(written)(), STEPS);
  }, 300_000);

  test(`C and run agree in every bit of every one of ${STEPS} steps`, { timeout: 300_000 }, () => {
    const program = workshop.compile(folder, ['-O2']);
    const theirs = hashesOf(program, random.path);
    const { written, hashes, path } = random;
    expect(firstDifference(written, hashes, theirs, program, path, scenario(written))).toBeNull();
  });

  test('the guard was armed in a fair share of these steps, more than a thousand times, and saw every mode', () => {
    const armed = (random.modes[modeNumber('armed')] as number) / STEPS;
    expect(armed).toBeGreaterThan(0.25);
    expect(random.arms).toBeGreaterThan(1000);
    for (const steps of random.modes) expect(steps).toBeGreaterThan(5000);
  });

  test('under the address and undefined-behaviour checks the C says the same and is not stopped', {
    timeout: 300_000,
  }, () => {
    const steps = 200_000;
    const { written } = random;
    const part = played('part', written, scenario(written)(), steps);
    const flags = ['-O1', '-g', '-fsanitize=address,undefined', '-fno-sanitize-recover=all'];
    const program = workshop.compile(folder, flags, 'sanitized');
    const theirs = hashesOf(program, part.path);
    expect(firstDifference(written, part.hashes, theirs, program, part.path, scenario(written))).toBeNull();
  });
});

test.skipIf(!there)(
  'the bench form computes the same in C and run, and orders nothing though its guard arms',
  () => {
    const written = writtenGateway(gateway, 'bench');
    const order = written.tx.findIndex((tx) => tx.name === 'plover_order');
    let sent = 0;
    const bench = played('bench', written, scenario(written)(), 60_000, ({ run }) => {
      for (let i = 0; i < run.sent.count; i++) {
        if (run.sent.message[i] !== order) continue;
        const from = run.sent.offset[i] as number;
        // 14 bits of angle in bytes 0 and 1, and the active flag in bit 0 of byte 1.
        expect([run.sent.payload[from], (run.sent.payload[from + 1] as number) & 0xfd]).toEqual([0, 0]);
        sent++;
      }
    });
    // Every 20 ms, and at once after each restart.
    expect(sent).toBeGreaterThanOrEqual(30_000);
    expect(bench.modes[modeNumber('armed')]).toBeGreaterThan(5000);
    const program = workshop.compile(projectOf(gateway, 'bench', 'bench-project'), ['-O2']);
    const theirs = hashesOf(program, bench.path);
    expect(firstDifference(written, bench.hashes, theirs, program, bench.path, scenario(written))).toBeNull();
  },
);

test.skipIf(!there)(
  'C and run agree on every frame of both demo recordings, with the buttons of the bench pressed',
  { timeout: 120_000 },
  async () => {
    const { build } = await loadBuild('demo');
    const demo = gatewayOf(build!);
    const capture = record(BENCH_1, DEMO_SEED);
    const cues = pinCuesOf(build!, demo, BENCH_1.capture);
    const events = () => new CaptureEvents(demo, capture, cues);
    const { steps } = events();
    const demoPlay = played('demo', demo, events(), steps);
    // The recording holds six handings-over that the guard accepts, and each is ended by what its cue says.
    expect(demoPlay.arms).toBe(6);
    const program = workshop.compile(projectOf(demo, 'armable', 'demo-project'), ['-O2']);
    const theirs = hashesOf(program, demoPlay.path);
    expect(firstDifference(demo, demoPlay.hashes, theirs, program, demoPlay.path, events)).toBeNull();
    const drive = record(DRIVE_1, DEMO_SEED);
    const driveEvents = () => new CaptureEvents(demo, drive, pinCuesOf(build!, demo, DRIVE_1.capture));
    const drivePlay = played('drive', demo, driveEvents(), driveEvents().steps);
    const driven = hashesOf(program, drivePlay.path);
    expect(driven).toHaveLength(drivePlay.hashes.length);
    expect(firstDifference(demo, drivePlay.hashes, driven, program, drivePlay.path, driveEvents)).toBeNull();
  },
);

test.skipIf(!there)(
  'a difference between C and run is told in words: which step, which value, what each says',
  () => {
    const written = writtenGateway(gateway, 'armable');
    const folder = projectOf(gateway, 'armable', 'changed');
    const files = firmwareProject(gateway, 'armable', provedFor(gateway), RUNTIME);
    const code = files.find((f) => f.path === 'gateway.c')!.content;
    const changed = code.replace('counter_now != 15', 'counter_now != 14');
    expect(changed).not.toBe(code);
    workshop.write('changed', [{ path: 'gateway.c', content: changed }]);
    const part = played('small', written, scenario(written)(), 2000);
    const program = workshop.compile(folder, ['-O0']);
    const theirs = hashesOf(program, part.path);
    expect(firstDifference(written, part.hashes, theirs, program, part.path, scenario(written))).toMatch(
      /^step \d+: the run says "read_van_speed\.valid 1", the C says "read_van_speed\.valid 0"$/,
    );
  },
);
