/**
 * The whole line on a real recording: everything about the car's messages comes from findings, nothing is typed in but
 * names. The bench bus, the host figures and the guard are invented, since the recording knows nothing of them.
 */
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { acceptFinding } from '../../src/build/accept.ts';
import { readCaptureFile } from '../../src/build/captureFile.ts';
import { importCapture } from '../../src/build/importCapture.ts';
import { loadBuild } from '../../src/build/load.ts';
import { runLine } from '../../src/cli/line.ts';
import { verifyCounter } from '../../src/dictionary/counter.ts';
import { messageFrames } from '../../src/dictionary/decode.ts';
import { verifyCheck } from '../../src/dictionary/verify.ts';
import { findAll } from '../../src/findings/index.ts';

const RECORDING = resolve('../shared/data/car-500k/drive-b.csv.gz');
const there = existsSync(RECORDING);
const folder = mkdtempSync(join(tmpdir(), 'bywright line '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test.skipIf(!there && !process.env['CI'])(
  'a real recording goes through the whole line: findings, gateway, proof, C and dossier',
  { timeout: 240_000 },
  async () => {
    expect(there, 'the recordings must stand beside the repository, in ../shared/data').toBe(true);
    writeFiles();
    const { name } = await importCapture(folder, RECORDING);
    const { capture } = await readCaptureFile(join(folder, 'captures', name));
    const findings = await findAll(capture);
    let accepted = 0;
    for (const found of findings.messages.filter((m) => m.counter && m.check)) {
      for (const field of ['counter', 'check'] as const) {
        const { start, length, probability } = found[field]!;
        if (probability < 0.9) continue;
        await acceptFinding(
          folder,
          'car',
          found,
          { field, start, length, selectorValue: null },
          { capture: name },
        );
        accepted++;
      }
    }
    // 30 checks and 29 of 30 counters: one counter of 13 frames is stated below 0.9.
    expect(accepted).toBe(59);
    // One number of one message stands for a speed: the route and the guard below need one.
    const found = findings.messages.find((m) => m.id === 0x0de)!;
    const { start, length } = found.signals.find((s) => s.kind === 'number' && s.length >= 8)!;
    await acceptFinding(
      folder,
      'car',
      found,
      { field: 'signal', start, length, selectorValue: null },
      { capture: name, name: 'pace', scale: 0.01, unit: 'm/s' },
    );
    const { problems } = await loadBuild(folder);
    expect(problems.filter((p) => p.weight !== 'caution')).toEqual([]);

    const result = await runLine(folder, new AbortController().signal);

    expect(result.frames).toBe(33_005);
    expect(result.findings!.messages.filter((m) => m.check)).toHaveLength(30);
    expect(result.findings!.messages.filter((m) => m.counter)).toHaveLength(31);
    // Every accepted check field, found from the same recording and read back from YAML, agrees on every frame.
    expect(result.retest!.agree).toBe(result.retest!.checked);
    expect(result.retest!.checked).toBeGreaterThan(20_000);
    expect(result.proof!.obligations.map((o) => o.status)).not.toContain('failed');
    expect(new Set(result.proof!.obligations.map((o) => o.status))).toEqual(new Set(['proved']));
    expect(result.firmware).toMatchObject({ form: 'armable' });
    expect(result.budget!.channels[0]!.leastMargin).toBeGreaterThan(0);

    const { capture: sent } = await readCaptureFile(join(folder, 'out', `sent-${name}`));
    const { build } = await loadBuild(folder);
    const bench = build!.dictionaries.find((d) => d.bus === 'bench')!;
    const route = bench.messages.find((m) => m.name === 'pace for the donor')!;
    const frames = messageFrames(sent, 1, route);
    expect(frames.length).toBeGreaterThan(500);
    expect(verifyCheck(sent, frames, route)).toMatchObject({ frames: frames.length, agree: frames.length });
    expect(verifyCounter(sent, frames, route.counter!)).toMatchObject({ agree: frames.length - 1 });
    expect(readFileSync(join(folder, 'out', 'dossier.html'), 'utf8')).toContain('Trial on a real recording');
    expect(readdirSync(join(folder, 'out', 'firmware'))).toContain('gateway.c');
  },
);

function writeFiles(): void {
  const file = (path: string, text: string) => writeFileSync(join(folder, path), text);
  mkdirSync(join(folder, 'dictionary'), { recursive: true });
  file(
    'build.yaml',
    `form: build/1
title: Trial on a real recording
note: Host figures, bench bus and guard are invented.
host:
  name: host
  mass_kg: 1500
  yaw_inertia_kgm2: 2500
  wheelbase_m: 2.7
  cg_to_front_m: 1.2
  front_stiffness_n_per_rad: 100000
  rear_stiffness_n_per_rad: 120000
  steering_ratio: 16
  width_m: 1.8
`,
  );
  file(
    'buses.yaml',
    `form: buses/1
buses:
  - { name: car, number: 0, bit_rate_bps: 500000 }
  - { name: bench, number: 1, bit_rate_bps: 500000 }
`,
  );
  file(
    'units.yaml',
    `form: units/1
units:
  - { name: host, role: host, part: the recorded car, buses: [car] }
  - { name: gateway, role: gateway, part: microcontroller, buses: [car, bench] }
`,
  );
  file('dictionary/car.yaml', 'form: dictionary/1\nbus: car\nmessages: []\n');
  const signal = (name: string, start: number, length: number, rest: string) =>
    `      - { name: ${name}, start: ${start}, length: ${length}, byte_order: little, ${rest} }`;
  const protectedBy = (poly: string) => `    counter: { start: 48, length: 4 }
    check: { start: 56, length: 8, algorithm: crc, poly: ${poly}, init: 0xFF, xorout: 0xFF, covers: [0, 1, 2, 3, 4, 5, 6] }`;
  file(
    'dictionary/bench.yaml',
    `form: dictionary/1
bus: bench
messages:
  - name: pace for the donor
    id: 0x100
    length: 8
    period_ms: 20
${protectedBy('0x2F')}
    signals:
${signal('pace', 0, 16, 'scale: 0.01, unit: m/s')}
  - name: command
    id: 0x101
    length: 8
    period_ms: 20
${protectedBy('0x1D')}
    signals:
${signal('angle', 0, 16, 'signed: true, scale: 0.1, unit: deg')}
${signal('request', 16, 1, "unit: ''")}
  - name: wheel
    id: 0x102
    length: 8
    period_ms: 10
    signals:
${signal('angle', 0, 16, 'signed: true, scale: 0.1, unit: deg')}
${signal('torque', 16, 16, 'signed: true, scale: 0.01, unit: N·m')}
  - name: order
    id: 0x103
    length: 8
    period_ms: 20
${protectedBy('0x1D')}
    signals:
${signal('angle', 0, 16, 'signed: true, scale: 0.1, unit: deg')}
${signal('active', 16, 1, "unit: ''")}
`,
  );
  file(
    'bridge.yaml',
    `form: bridge/1
step_ms: 10
routes:
  - name: pace for the donor
    to: { bus: bench, message: pace for the donor }
    period_ms: 20
    source_age_ms: 100
    signals:
      - to: pace
        from: { bus: car, message: message_0DE, signal: pace }
`,
  );
  file(
    'guard.yaml',
    `form: guard/2
arm_input: { name: arm, active: high }
stop_input: { name: stop, active: low }
handover:
  request: { bus: bench, message: command, signal: request }
  speed: { bus: car, message: message_0DE, signal: pace }
  command_age_ms: 100
  sensor_age_ms: 100
  release_ms: 600
  arm_hold_ms: 500
  driver_torque:
    signal: { bus: bench, message: wheel, signal: torque }
    at_nm: 3
    for_ms: 100
steering:
  by: angle
  command: { bus: bench, message: command, signal: angle }
  angle: { bus: bench, message: wheel, signal: angle }
  output: { bus: bench, message: order }
  output_order: angle
  output_active: active
  output_period_ms: 20
  level:
    - { speed_mps: 0, angle_deg: 26 }
    - { speed_mps: 10, angle_deg: 8 }
    - { speed_mps: 20, angle_deg: 2.4 }
  slew:
    - { speed_mps: 0, rate_deg_per_s: 80 }
    - { speed_mps: 20, rate_deg_per_s: 24 }
  arm_angle_deg: 5
budget:
  reaction_time_s: 1
  lateral_distance_m: 0.85
  speed_max_mps: 20
`,
  );
}
