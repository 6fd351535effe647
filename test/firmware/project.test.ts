import { execFileSync, spawnSync } from 'node:child_process';
import { afterAll, describe, expect, test } from 'vitest';
import { assembleGateway } from '../../src/bridge/assemble.ts';
import { FirmwareError, firmwareProject } from '../../src/firmware/project.ts';
import {
  armingRefusals,
  type ObligationStatus,
  type Provenance,
  sha256,
} from '../../src/firmware/provenance.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { programHash } from '../../src/logic/hash.ts';
import { dictionaries, guardPlan, parts } from '../bridge/fixture.ts';
import { gccThere, RUNTIME, WARNINGS, Workshop } from './harness.ts';

const gateway = assembleGateway({
  ...parts(),
  guards: [bindGuard(guardPlan(), dictionaries(), 10).stage],
});
const guard = gateway.stages.find((s) => s.role === 'guard')!.program;
const workshop = new Workshop();
afterAll(() => workshop.end());

function provenance(...statuses: ObligationStatus['status'][]): Provenance {
  const obligations = statuses.map((status, i) => ({ name: `o${i}`, sentence: `Sentence ${i}.`, status }));
  const proofs = [{ program: guard.name, programHash: programHash(guard), obligations }];
  return { tool: 'Bywright 0.1.0', title: 'Wagtail', buildHash: 'f'.repeat(64), proofs };
}

const fileOf = (files: { path: string; content: string }[], path: string) =>
  files.find((f) => f.path === path)?.content ?? '';

test('an armable project is refused while an obligation is not proved, with every reason', () => {
  expect(armingRefusals(gateway, provenance('proved'))).toEqual([]);
  expect(armingRefusals(gateway, provenance('proved', 'failed', 'notShown', 'vacuous'))).toEqual([
    'obligation o1 of guard is refuted: Sentence 1.',
    'obligation o2 of guard is not shown: Sentence 2.',
    'obligation o3 of guard is proved only because its case never occurs: Sentence 3.',
  ]);
  expect(() => firmwareProject(gateway, 'armable', provenance('proved', 'failed'), RUNTIME)).toThrow(
    FirmwareError,
  );
  expect(() => firmwareProject(gateway, 'armable', provenance('failed', 'failed'), RUNTIME)).toThrow(
    'no armable project is written: obligation o0 of guard is refuted: Sentence 0. (and 1 more); the bench form can be',
  );
});

test('a proof of another version, of nothing, or no proof at all arms nothing', () => {
  const other = provenance('proved');
  other.proofs[0]!.programHash = '0'.repeat(64);
  expect(armingRefusals(gateway, other)).toEqual([
    'the proof of guard is of another version of it; prove this one',
  ]);
  expect(armingRefusals(gateway, provenance())).toEqual(['the proof of guard holds no obligation']);
  expect(armingRefusals(gateway, { ...provenance(), proofs: [] })).toEqual([
    'there is no proof of guard; prove it first',
  ]);
  expect(armingRefusals(assembleGateway(parts()), provenance('proved'))).toEqual([
    'the gateway has no guard, so there is nothing that could be armed',
  ]);
});

test('an unproved obligation of any other program of the gateway stands against arming too', () => {
  const p = provenance('proved');
  const write = gateway.stages.find((s) => s.role === 'write')!.program;
  p.proofs.push({
    program: write.name,
    programHash: programHash(write),
    obligations: [{ name: 'counter', sentence: 'The counter goes on.', status: 'notShown' }],
  });
  expect(armingRefusals(gateway, p)).toEqual([
    'obligation counter of write_plover_van_speed is not shown: The counter goes on.',
  ]);
});

test('every generated file says at its head whether the project can move anything', () => {
  const bench = firmwareProject(gateway, 'bench', provenance(), RUNTIME);
  const armable = firmwareProject(gateway, 'armable', provenance('proved'), RUNTIME);
  for (const path of ['gateway.h', 'gateway.c', 'gateway_trace.h', 'gateway_trace.c']) {
    expect(fileOf(bench, path).slice(0, 400)).toContain('BENCH FORM: every actuator order is held released.');
    expect(fileOf(armable, path).slice(0, 400)).toContain('ARMABLE FORM: when the driver hands over');
    expect(fileOf(armable, path).slice(0, 700)).toContain('f'.repeat(64));
  }
  expect(fileOf(bench, 'gateway.c')).toContain('.steering_order = 0, /* held released: bench form */');
  expect(fileOf(armable, 'gateway.c')).not.toContain('held released');
});

test('the README tells buses, pins, cautions, what was shown, what was not, and where everything comes from', () => {
  const files = firmwareProject(gateway, 'bench', provenance('proved', 'notShown'), RUNTIME);
  const readme = fileOf(files, 'README.md');
  for (const text of [
    '| plover | GATEWAY_BUS_PLOVER | 1 | 500000 bit/s | none |',
    '| stop | GATEWAY_PIN_STOP | 1 | low level, so that a broken wire counts as active |',
    '| plover | 0E4 | plover_order | 8 bytes | counter of 4 bits, crc of 8 bits |',
    'Local law, type approval and the judgement of a licensed engineer come first.',
    '- guard, o0: PROVED. Sentence 0.',
    '- guard, o1: NOT SHOWN. Sentence 1.',
    'obligation o1 of guard is not shown: Sentence 1.',
    `| guard | guard | ${programHash(guard)} |`,
    `| gateway.c | ${sha256(fileOf(files, 'gateway.c'))} |`,
    '| signal | van: Display: int | int_ |',
    '| signal | route Lüfter · display: van Speed | van_speed |',
    // 500 kbit/s for 10 ms at 47 bits is 106.4 frames, on each of three buses.
    'most 321 frames',
  ])
    expect(readme).toContain(text);
});

test('the same build gives the same project, byte for byte', () => {
  const make = () => JSON.stringify(firmwareProject(gateway, 'bench', provenance('proved'), RUNTIME));
  expect(make()).toBe(make());
});

test('generated and fixed code of the gateway knows no heap, no floating point and no recursion', () => {
  const files = firmwareProject(gateway, 'armable', provenance('proved'), RUNTIME);
  const core = ['gateway.h', 'gateway.c', 'main.c', 'port.h'].map((path) => fileOf(files, path)).join('\n');
  const code = core.replace(/\/\*[\s\S]*?\*\//g, '');
  expect(code).not.toMatch(/\b(malloc|calloc|realloc|free|float|double|long|goto|setjmp)\b/);
  // A function may call only what stands before it, so no call can come back to it.
  const definitions = [
    ...fileOf(files, 'gateway.c').matchAll(
      /^(?:static )?(?:void|bool|int32_t) ([a-z0-9_]+)\((?:[^;{]*)\)\n\{\n([\s\S]*?)\n\}/gm,
    ),
  ];
  expect(definitions.length).toBeGreaterThan(40);
  const known = new Set(['memset']);
  for (const [, name, body] of definitions as unknown as [string, string, string][]) {
    for (const [, called] of body.replace(/\/\*.*?\*\//g, '').matchAll(/\b([a-z0-9_]+)\(/g))
      if (!['if', 'for', 'while', 'switch', 'sizeof'].includes(called as string))
        expect(known).toContain(called);
    known.add(name);
  }
});

test('port.h asks the board for at most eight functions', () => {
  const functions = RUNTIME['port.h'].match(/^[a-z].*\(.*\);$/gm) ?? [];
  expect(functions.length).toBeGreaterThan(3);
  expect(functions.length).toBeLessThanOrEqual(8);
});

describe.skipIf(!gccThere())('with a compiler', () => {
  test('a project compiles without a warning, also under stricter ones than it asks for', () => {
    const folder = workshop.write(
      'strict',
      firmwareProject(gateway, 'armable', provenance('proved'), RUNTIME),
    );
    workshop.compile(folder, ['-O2', '-Wconversion', '-Wshadow', '-Wstrict-prototypes', '-Wundef']);
  });

  test('the Makefile builds the host program, and asks for a port where a board is wanted without one', () => {
    const folder = workshop.write('make', firmwareProject(gateway, 'bench', provenance(), RUNTIME));
    execFileSync('make', ['CC=gcc'], { cwd: folder });
    const board = spawnSync('make', ['board', 'CC=gcc'], { cwd: folder, encoding: 'utf8' });
    expect(board.status).not.toBe(0);
    expect(board.stdout).toContain('name your port: make board PORT=port_board.c');
  });

  test('a gateway that hears, reads, sends and computes nothing is a project that compiles', () => {
    const nothing = assembleGateway({ ...parts(), bridge: null });
    const folder = workshop.write('nothing', firmwareProject(nothing, 'bench', provenance(), RUNTIME));
    workshop.compile(folder, ['-O2']);
  });

  test('names that C does not allow, or that would be the same, compile all the same', () => {
    const p = parts();
    const names = ['int', 'Int', 'überspeed */ "x" \\', '日本', 'a b', 'a-b', 'gateway', 'errno'];
    const speed = p.dictionaries[0]!.messages[0]!;
    const plain = { ...speed.signals[1]!, min: undefined, max: undefined };
    const target = p.dictionaries[0]!.messages[2]!;
    target.signals = names.map((name, i) => ({ ...target.signals[0]!, name, start: i, length: 1 }));
    speed.signals = [...speed.signals, ...names.map((name, i) => ({ ...plain, name, start: 17 + i }))];
    p.bridge!.routes = names.map((name, i) => ({
      ...p.bridge!.routes[2]!,
      name,
      to: { bus: 'van', message: i === 0 ? 'Display' : `out ${name}` },
      signals: names.map((to) => ({
        to,
        from: { bus: 'van', message: 'Speed', signal: to },
        gain: 1,
        bias: 0,
        onLoss: 'hold' as const,
      })),
    }));
    p.dictionaries[0]!.messages.push(
      ...names.slice(1).map((name, i) => ({ ...target, name: `out ${name}`, id: 0x400 + i })),
    );
    p.name = 'Größe \\';
    const project = firmwareProject(
      assembleGateway(p),
      'bench',
      { ...provenance(), title: 'x */ y ??/ \\' },
      RUNTIME,
    );
    workshop.compile(workshop.write('names', project), ['-O0']);
    const readme = fileOf(project, 'README.md');
    const words = [...readme.matchAll(/\| signal \| van: Display: (.*) \| ([a-z0-9_]+) \|/g)].map((m) => [
      m[1],
      m[2],
    ]);
    expect(words.map(([, word]) => word)).toEqual([
      'int_',
      'int_2',
      'uberspeed_x',
      'u65e5_u672c',
      'a_b',
      'a_b_2',
      'gateway',
      'errno_',
    ]);
  });

  test('code of the core needs nothing of a C library but memset', () => {
    const folder = workshop.write('bare', firmwareProject(gateway, 'armable', provenance('proved'), RUNTIME));
    execFileSync('gcc', [...WARNINGS, '-O2', '-fno-builtin', '-c', 'gateway.c', 'main.c'], { cwd: folder });
    const undefinedNames = execFileSync('nm', ['-u', 'gateway.o', 'main.o'], {
      cwd: folder,
      encoding: 'utf8',
    })
      .split('\n')
      .map((line) => line.trim().split(' ').at(-1) ?? '')
      .filter((name) => name !== '' && !/^(gateway|port)_|:$|^_GLOBAL/.test(name));
    expect(undefinedNames).toEqual(['memset']);
  });
});
