import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { loadBuild, type Problem, problemSentence } from '../../src/build/index.ts';
import { BRIDGE, BUILD, BUSES, CHASSIS, folderWith, GUARD, UNITS, wagtail } from './folder.ts';

async function sentences(files: Record<string, string | Uint8Array>): Promise<string[]> {
  return (await loadBuild(folderWith(files))).problems.map(problemSentence);
}

async function problemsOf(changes: Record<string, string | null>): Promise<Problem[]> {
  return (await loadBuild(folderWith(wagtail(changes)))).problems;
}

test('a build without mistakes loads whole and has no problems', async () => {
  const { build, problems } = await loadBuild(
    folderWith({
      ...wagtail(),
      'captures/01-key-on.pcapng': 'x',
      'captures/.hidden': '',
      'captures/README.txt': 'what goes here',
      'captures/02-cut-short.pcapng.tmp': 'x',
    }),
  );
  expect(problems.map(problemSentence)).toEqual([]);
  expect(build?.file.host.massKg).toBe(2150);
  expect(build?.dictionaries.map((d) => d.bus)).toEqual(['chassis', 'control']);
  expect(build?.dictionaries[0]?.messages[0]?.id).toBe(0xc4);
  expect(build?.guard?.steering?.level[1]).toEqual({ speedMps: 8, angleDeg: 12 });
  expect(build?.bridge?.routes[0]?.signals[0]?.gain).toBe(1);
  expect(build?.captures).toEqual(['01-key-on.pcapng']);
});

describe('a mistake is told with file, line, column, field, found and expected', () => {
  const cases: [string, Record<string, string | null>, string[]][] = [
    [
      'a number with its unit',
      { 'guard.yaml': GUARD.replace('speed_mps: 8,', 'speed_mps: 28.8 km/h,') },
      [
        'guard.yaml:25:19: steering.level[1].speed_mps: found "28.8 km/h"; expected the number alone, in m/s: 8.',
      ],
    ],
    [
      'a decimal comma',
      { 'build.yaml': BUILD.replace('3.2', '"3,2"') },
      ['build.yaml:9:16: host.wheelbase_m: found "3,2"; expected the number alone, in m: 3.2.'],
    ],
    [
      'a field that stands twice',
      { 'guard.yaml': GUARD.replace('  release_ms: 600', '  release_ms: 600\n  release_ms: 900') },
      [
        'guard.yaml:10:3: handover.release_ms: found "release_ms" a second time in the same group; expected each field once; remove one of the two.',
      ],
    ],
    [
      'an unknown field, with the known one that was meant',
      { 'build.yaml': BUILD.replace('steering_ratio', 'stearing_ratio') },
      [
        'build.yaml:13:3: host.stearing_ratio: found an unknown field "stearing_ratio"; expected "steering_ratio", or no such field.',
      ],
    ],
    [
      'a field in another unit, with the converted number',
      { 'build.yaml': BUILD.replace('mass_kg: 2150', 'mass_t: 2.15') },
      ['build.yaml:7:3: host.mass_t: found an unknown field "mass_t"; expected "mass_kg", in kg: 2150.'],
    ],
    [
      'a missing field, at the group that should hold it',
      { 'build.yaml': BUILD.replace('  width_m: 1.9\n', '') },
      [
        'build.yaml:5:1: host.width_m: found no field "width_m"; expected a number of m from 1 to 3 (without mirrors).',
      ],
    ],
    [
      'a figure out of range',
      { 'build.yaml': BUILD.replace('2150 ', '2.15 ') },
      [
        'build.yaml:7:12: host.mass_kg: found 2.15; expected a number of kg from 200 to 20000 (as driven: with driver, parts and usual load).',
      ],
    ],
    [
      'an identifier out of range',
      { 'dictionary/chassis.yaml': CHASSIS.replace('0x0C4', '0x20000000') },
      [
        'dictionary/chassis.yaml:5:9: messages[0].id: found 536870912; expected a whole number from 0 to 536870911.',
      ],
    ],
    [
      'an identifier without 0x',
      { 'dictionary/chassis.yaml': CHASSIS.replace('0x0E5', '0EC') },
      [
        'dictionary/chassis.yaml:12:9: messages[1].id: found "0EC"; expected a whole number; in hexadecimal 0x0EC.',
      ],
    ],
    [
      'yes for true',
      { 'dictionary/chassis.yaml': CHASSIS.replace('signed: true', 'signed: yes') },
      ['dictionary/chassis.yaml:21:17: messages[1].signals[0].signed: found "yes"; expected true.'],
    ],
    [
      'a word that is not one of the known',
      { 'dictionary/chassis.yaml': CHASSIS.replace('byte_order: big', 'byte_order: motor') },
      [
        'dictionary/chassis.yaml:10:57: messages[0].signals[0].byte_order: found "motor"; expected "little" or "big".',
      ],
    ],
    [
      'a blank',
      { 'build.yaml': BUILD.replace('width_m: 1.9', 'width_m:') },
      ['build.yaml:14:3: host.width_m: found nothing; expected a number of m from 1 to 3 (without mirrors).'],
    ],
    [
      'a list where a group is due',
      { 'build.yaml': 'form: build/1\ntitle: x\nhost: [1]\n' },
      [
        'build.yaml:3:7: host: found a list of 1; expected a group with the fields name, mass_kg, yaw_inertia_kgm2, wheelbase_m, cg_to_front_m, front_stiffness_n_per_rad, rear_stiffness_n_per_rad, steering_ratio, width_m.',
      ],
    ],
    [
      'a form from a newer version',
      { 'guard.yaml': GUARD.replace('guard/2', 'guard/3') },
      [
        'guard.yaml:1:7: form: found "guard/3", a form from a newer version; expected "guard/2", the newest this version reads; install a newer Bywright to open it.',
      ],
    ],
    [
      'the form of another file',
      { 'bridge.yaml': BRIDGE.replace('bridge/1', 'guard/1') },
      ['bridge.yaml:1:7: form: found "guard/1"; expected "bridge/1".'],
    ],
    [
      'an empty file',
      { 'guard.yaml': '# nothing yet\n' },
      ['guard.yaml: found an empty file; expected "form: guard/2" and the fields of that form.'],
    ],
    [
      'broken YAML, without guesses about its fields',
      { 'units.yaml': UNITS.replace('buses: [chassis, control]', 'buses: [chassis, control') },
      [
        'units.yaml:15:3: found a list or group in brackets that does not end; expected the closing ] or }, and a comma between entries.',
      ],
    ],
    [
      'a colon without the space behind it',
      { 'build.yaml': BUILD.replace('stage: bench', 'stage:bench') },
      [
        'build.yaml:4:1: found a line that is no "name: value"; expected a name, a colon, a space and a value; look at this line and the one below.',
      ],
    ],
    [
      'a line too far to the left',
      { 'build.yaml': BUILD.replace('  wheelbase_m', ' wheelbase_m') },
      [
        'build.yaml:9:1: found a line that stands further left or right than its neighbours; expected the fields of one group exactly below each other; look at this line and the one above.',
      ],
    ],
    [
      'a colon inside a text',
      { 'build.yaml': BUILD.replace('title: Wagtail, by-wire', 'title: Wagtail: by-wire') },
      [
        'build.yaml:3:8: found a second "name:" in one line, or a line that stands too far right; expected text that holds a colon between quotes; the fields of one group exactly below each other.',
      ],
    ],
    [
      'a comma that may part thousands, without a guess',
      { 'build.yaml': BUILD.replace('mass_kg: 2150', 'mass_kg: 2,150') },
      [
        'build.yaml:7:12: host.mass_kg: found "2,150"; expected a number of kg from 200 to 20000 (as driven: with driver, parts and usual load).',
      ],
    ],
    [
      'a unit whose number would be out of range, without that number as advice',
      { 'build.yaml': BUILD.replace('mass_kg: 2150', 'mass_kg: 120 t') },
      [
        'build.yaml:7:12: host.mass_kg: found "120 t"; expected a number of kg from 200 to 20000 (as driven: with driver, parts and usual load).',
      ],
    ],
    [
      'a dictionary that names another bus, once and not at everyone who reads its messages',
      { 'dictionary/chassis.yaml': CHASSIS.replace('bus: chassis', 'bus: chasis') },
      [
        'dictionary/chassis.yaml:2:6: bus: found bus "chasis"; expected "chassis", or another bus of buses.yaml.',
      ],
    ],
    [
      'speeds that do not rise, without the error of the program that cannot be built from them',
      { 'guard.yaml': GUARD.replace('speed_mps: 8,', 'speed_mps: 0,') },
      [
        'guard.yaml:25:19: steering.level[1].speed_mps: found 0 after 0; expected speeds that rise from line to line, each once.',
      ],
    ],
    [
      'a tab as indentation',
      { 'buses.yaml': BUSES.replace('    number: 0', '\tnumber: 0') },
      ['buses.yaml:4:1: found a tab at the start of the line; expected spaces.'],
    ],
    [
      'a raw value that is no number',
      {
        'dictionary/chassis.yaml': CHASSIS.replace(
          'length: 1\n',
          'length: 1\n        values: {open: "off"}\n',
        ),
      },
      [
        'dictionary/chassis.yaml:51:18: messages[2].signals[1].values.open: found "open"; expected a whole number as the name of each line.',
      ],
    ],
    [
      'a file name that nothing reads',
      { 'gaurd.yaml': GUARD, 'dictionary/rear.yml': '' },
      [
        'dictionary/rear.yml: found this ending, so that it is not read; expected the ending .yaml.',
        'gaurd.yaml: found a name that nothing reads; expected guard.yaml.',
      ],
    ],
  ];
  for (const [name, changes, expected] of cases) {
    test(name, async () => expect(await sentences(wagtail(changes))).toEqual(expected));
  }
});

test('every problem of every file is told at once, in the order of files and lines', async () => {
  const problems = await problemsOf({
    'build.yaml': BUILD.replace('3.2', 'long').replace('stage: bench', 'stage: street'),
    'buses.yaml': BUSES.replace('500000', '500 kbit/s'),
    'guard.yaml': GUARD.replace('release_ms: 600', 'release_ms: soon'),
  });
  expect(problems.map((p) => `${p.file}:${p.line} ${p.field}`)).toEqual([
    'build.yaml:4 stage',
    'build.yaml:9 host.wheelbase_m',
    'buses.yaml:5 buses[0].bit_rate_bps',
    'guard.yaml:9 handover.release_ms',
  ]);
  expect(problems[2]?.expected).toBe('the number alone, in bits per second: 500000');
});

test('a guard with a field twice is not used', async () => {
  const twice = GUARD.replace('  release_ms: 600', '  release_ms: 600\n  release_ms: 900');
  const { build } = await loadBuild(folderWith(wagtail({ 'guard.yaml': twice })));
  expect(build).not.toBeNull();
  expect(build?.guard).toBeNull();
});

describe('names that lead nowhere are told where they stand', () => {
  const cases: [string, Record<string, string | null>, string[]][] = [
    [
      'a unit on a bus that does not exist',
      { 'units.yaml': UNITS.replace('buses: [control]', 'buses: [contrl]') },
      [
        'units.yaml:18:13: units[3].buses[0]: found bus "contrl"; expected "control", or another bus of buses.yaml.',
      ],
    ],
    [
      'two buses with one number',
      { 'buses.yaml': BUSES.replace('number: 1', 'number: 0') },
      [
        'buses.yaml:7:13: buses[1].number: found number 0 a second time; expected a number of its own for each bus, as in the captures.',
      ],
    ],
    [
      'a sender that is no unit',
      { 'dictionary/chassis.yaml': CHASSIS.replace('sender: Plover', 'sender: Plovr') },
      [
        'dictionary/chassis.yaml:15:13: messages[1].sender: found unit "Plovr"; expected "Plover", or another unit of units.yaml.',
      ],
    ],
    [
      'a centre of gravity behind the rear axle',
      { 'build.yaml': BUILD.replace('1.45', '3.45') },
      [
        'build.yaml:10:18: host.cg_to_front_m: found 3.45 m; expected less than the wheelbase of 3.2 m: the centre of gravity lies between the axles.',
      ],
    ],
    [
      'a dictionary whose bus is not its name',
      {
        'dictionary/chassis.yaml': null,
        'dictionary/front.yaml': CHASSIS,
        'guard.yaml': null,
        'bridge.yaml': null,
      },
      ['dictionary/front.yaml:2:6: bus: found bus "chassis"; expected the name of the file, chassis.yaml.'],
    ],
  ];
  for (const [name, changes, expected] of cases) {
    test(name, async () => expect(await sentences(wagtail(changes))).toEqual(expected));
  }

  test('signals that claim the same bits', async () => {
    const problems = await problemsOf({
      'dictionary/chassis.yaml': CHASSIS.replace(
        'start: 16\n        length: 12',
        'start: 12\n        length: 12',
      ),
    });
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatchObject({
      file: 'dictionary/chassis.yaml',
      line: 27,
      field: 'messages[1].signals[1].start',
      found: 'torque claims bits 12–15 of angle',
    });
  });

  test('a route from a signal that is not in the dictionary', async () => {
    const bridge = BRIDGE.replace('signal: speed}', 'signal: sped}');
    const [problem] = await problemsOf({ 'bridge.yaml': bridge });
    expect(problem).toMatchObject({
      file: 'bridge.yaml',
      line: 10,
      field: 'routes[0].signals[0].from.signal',
      found: 'signal "sped"',
    });
  });

  test('a guard that reads a message that is not in the dictionary', async () => {
    const guard = GUARD.replace('message: wheel_speed', 'message: wheel_sped');
    const problems = await problemsOf({ 'guard.yaml': guard });
    expect(problems.map((p) => [p.file, p.line, p.field, p.found])).toContainEqual([
      'guard.yaml',
      6,
      'handover.speed.message',
      'message "wheel_sped"',
    ]);
  });

  test('a broken dictionary is told once, not again by every plan that refers to it', async () => {
    const problems = await problemsOf({
      'dictionary/chassis.yaml': CHASSIS.replace('length: 8', 'length: eight'),
    });
    expect(problems.map((p) => `${p.file} ${p.field}`)).toEqual([
      'dictionary/chassis.yaml messages[0].length',
    ]);
  });

  test('a cue sheet of a capture that is not there, once there are captures', async () => {
    const sheet = 'form: cues/1\ncapture: 02-turn.pcapng\ncues:\n  - {name: left, start_s: 4, end_s: 3}\n';
    const without = await sentences({ ...wagtail(), 'cues/02.yaml': sheet });
    const cueLine = 'cues/02.yaml:4:37: cues[0].end_s: found 3 s; expected at least start_s, 4 s.';
    expect(without).toEqual([cueLine]);
    expect(await sentences({ ...wagtail(), 'cues/02.yaml': sheet, 'captures/02-turn.pcap': '' })).toEqual([
      'cues/02.yaml:2:10: capture: found "02-turn.pcapng", which is not there; expected "02-turn.pcap", or another file in captures/.',
      cueLine,
    ]);
  });
});

describe('a folder that cannot be loaded is told in one sentence', () => {
  test('that does not exist', async () => {
    const { build, problems } = await loadBuild(join(folderWith({}), 'nowhere'));
    expect(build).toBeNull();
    expect(problems.map((p) => [p.found, p.expected])).toEqual([['no such folder', 'the folder of a build']]);
  });

  test('that is a file', async () => {
    const { problems } = await loadBuild(join(folderWith({ 'a.txt': 'x' }), 'a.txt'));
    expect(problems).toHaveLength(1);
    expect(problems[0]?.found).toBe('a file');
  });

  test('that holds something else', async () => {
    const { build, problems } = await loadBuild(folderWith({ 'notes.txt': 'x' }));
    expect(build).toBeNull();
    expect(problems).toHaveLength(1);
    expect(problems[0]?.found).toBe('no build.yaml, buses.yaml or units.yaml');
  });

  test('that is half a build: the missing files are named', async () => {
    expect(await sentences({ 'build.yaml': BUILD })).toEqual([
      'buses.yaml: found no such file; expected this file with "form: buses/1".',
      'units.yaml: found no such file; expected this file with "form: units/1".',
    ]);
  });
});

test('a file without read permission is told, and the rest is still looked at', async (context) => {
  const folder = folderWith(wagtail({ 'buses.yaml': BUSES.replace('number: 1', 'number: x') }));
  chmodSync(folder, 0o755);
  chmodSync(join(folder, 'guard.yaml'), 0o000);
  const root = process.geteuid?.() === 0;
  if (process.platform === 'win32') context.skip();
  if (root) process.seteuid?.(65_534);
  const { problems } = await loadBuild(folder).finally(() => {
    if (root) process.seteuid?.(0);
  });
  expect(problems.map(problemSentence)).toContain(
    'guard.yaml: found a file that this user may not read; expected read permission for this user.',
  );
  expect(problems.map((p) => p.file)).toContain('buses.yaml');
});

test('hostile text neither hangs nor throws', async () => {
  const bomb = `form: &a [x, x, x, x, x, x, x, x, x]\n${'bcdefghij'
    .split('')
    .map((n, i) => `${n}: &${n} [${Array(9).fill(`*${'abcdefghi'[i]}`).join(', ')}]`)
    .join('\n')}\n`;
  expect(await sentences(wagtail({ 'units.yaml': bomb }))).toEqual([
    expect.stringContaining('units.yaml: found an alias (*name) that cannot be followed'),
  ]);
  expect((await sentences(wagtail({ 'units.yaml': '['.repeat(200_000) }))).length).toBeGreaterThan(0);
  const bytes = Buffer.concat([Buffer.from('form: units/1\n# '), Buffer.from([0xe9, 0x20, 0x0a])]);
  expect(await sentences({ ...wagtail(), 'units.yaml': bytes })).toEqual([
    'units.yaml:2:3: found a byte that is not UTF-8 (0xe9); expected text saved as UTF-8.',
  ]);
  const big = folderWith(wagtail({ 'guard.yaml': `# ${'x'.repeat(5 * 1024 * 1024)}` }));
  expect((await loadBuild(big)).problems.map(problemSentence)).toEqual([
    'guard.yaml: found 5.0 MB; expected a text file of at most 4 MB; recordings belong into captures/.',
  ]);
  const folders = folderWith(wagtail({ 'guard.yaml': null }));
  mkdirSync(join(folders, 'guard.yaml'));
  writeFileSync(join(folders, 'cues'), 'not a folder');
  expect((await loadBuild(folders)).problems.map(problemSentence)).toEqual([
    'guard.yaml: found a folder; expected a text file.',
    'cues/: found a file; expected a folder.',
  ]);
});

test('whatever is done to the text of a file, loading answers with places inside that file', async () => {
  const seed = Number(process.env['SEED'] ?? Date.now() % 1e9);
  const files = wagtail();
  const names = Object.keys(files);
  const piece = fc.oneof(
    fc.constantFrom(
      ': ',
      '- ',
      '\n',
      '\t',
      '[',
      '}',
      '"',
      '#',
      '&a ',
      '*a',
      '!!binary ',
      '---\n',
      '? ',
      '| ',
      '0x',
      '.inf',
      '~',
      '\u0000',
      '\ufeff',
    ),
    fc.string({ maxLength: 6 }),
  );
  const edit = fc.tuple(fc.double({ min: 0, max: 1, noNaN: true }), fc.nat(12), piece);
  await fc.assert(
    fc.asyncProperty(
      fc.nat(names.length - 1),
      fc.array(edit, { minLength: 1, maxLength: 4 }),
      async (n, edits) => {
        const name = names[n] as string;
        let text = files[name] as string;
        for (const [where, remove, insert] of edits) {
          const at = Math.floor(where * text.length);
          text = text.slice(0, at) + insert + text.slice(at + remove);
        }
        const { problems } = await loadBuild(folderWith({ ...files, [name]: text }));
        const lines = text.split('\n');
        for (const p of problems) {
          expect(p.found.length * p.expected.length, `seed ${seed}`).toBeGreaterThan(0);
          if (p.file === name) expect(p.line).toBeLessThanOrEqual(lines.length);
          expect(problemSentence(p)).not.toMatch(/undefined|\[object|NaN(?!o)/);
        }
      },
    ),
    { seed, numRuns: 150 },
  );
});
