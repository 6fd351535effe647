import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { acceptFinding, rejectFinding } from '../../src/build/accept.ts';
import { editSignal, rejectEntry, takeBackRejection, undoChange } from '../../src/build/entryEdit.ts';
import { findingState } from '../../src/build/findingTarget.ts';
import { loadBuild } from '../../src/build/load.ts';
import type { FoundMessage, FoundSignal } from '../../src/findings/model.ts';
import { CHASSIS, folderWith, wagtail } from './folder.ts';

const evidence = [{ text: '1,251 of 1,251 frames agree', frames: 1251, agree: 1251 }];

const number: FoundSignal = {
  start: 39,
  length: 12,
  byteOrder: 'big',
  signed: true,
  kind: 'number',
  scale: 0.5,
  offset: 0,
  unit: '',
  selectorValue: null,
  probability: 0.97321,
  evidence,
};

/** Message 0E5 of bus chassis as findings would give it; in the dictionary already, with angle and torque. */
const found: FoundMessage = {
  bus: 0,
  id: 0x0e5,
  extended: false,
  length: 8,
  frames: 1251,
  periodMs: 10.01,
  jitterMs: 0.1,
  timing: 'periodic',
  missing: 0,
  outages: [],
  flipRate: new Float64Array(64),
  signals: [
    number,
    { ...number, start: 0, length: 16, byteOrder: 'little' },
    { ...number, start: 52, kind: 'constant' },
  ],
  counter: { start: 52, length: 4, byteOrder: 'little', step: 1, skip: [15], probability: 1, evidence },
  check: {
    start: 56,
    length: 8,
    byteOrder: 'little',
    algorithm: 'crc',
    width: 8,
    poly: 0x1d,
    init: 0xff,
    xorout: 0xff,
    reflected: false,
    covers: [0, 1, 2, 3, 4, 5, 6],
    prefix: [],
    suffix: [],
    idBytes: [],
    perCounter: null,
    standard: '',
    probability: 1,
    evidence,
  },
  selector: null,
  open: [],
};

const at = (f: { start: number; length: number }, field: 'signal' | 'counter' | 'check' = 'signal') => ({
  field,
  start: f.start,
  length: f.length,
  selectorValue: null,
});

const capture = '04-turns.pcapng';

function read(folder: string): string {
  return readFileSync(join(folder, 'dictionary/chassis.yaml'), 'utf8');
}

async function chassis(folder: string) {
  const { build, problems } = await loadBuild(folder);
  expect(problems).toEqual([]);
  return build?.dictionaries.find((d) => d.bus === 'chassis');
}

test('an accepted signal stands in the dictionary with its evidence, and nothing else changes', async () => {
  const folder = folderWith(wagtail());
  await acceptFinding(folder, 'chassis', found, at(number), { capture, name: 'rate', unit: 'deg/s' });
  const entry = `      - name: rate
        start: 39
        length: 12
        byte_order: big
        signed: true
        scale: 0.5
        unit: deg/s
        evidence:
          - capture: 04-turns.pcapng
            text: 1,251 of 1,251 frames agree
            probability: 0.9732
`;
  expect(read(folder)).toBe(CHASSIS.replace('  - name: steering_order', `${entry}  - name: steering_order`));
  expect(findingState(await chassis(folder), found, at(number))).toBe('accepted');
});

test('counter and check are accepted into their message', async () => {
  const folder = folderWith(wagtail());
  await acceptFinding(folder, 'chassis', found, at(found.counter!, 'counter'), { capture });
  await acceptFinding(folder, 'chassis', found, at(found.check!, 'check'), {
    capture,
    note: 'seen on the bench',
  });
  const message = (await chassis(folder))?.messages[1];
  expect(message?.counter).toMatchObject({ start: 52, length: 4, skip: [15] });
  expect(message?.check).toMatchObject({ poly: 0x1d, init: 0xff, covers: [0, 1, 2, 3, 4, 5, 6] });
  expect(message?.check?.evidence?.map((e) => e.text)).toEqual([evidence[0]?.text, 'seen on the bench']);
  expect(read(folder)).toContain('poly: 0x1D');
});

test('a message that the dictionary does not have is added, also where there is no dictionary yet', async () => {
  const folder = folderWith(
    wagtail({ 'dictionary/control.yaml': null, 'bridge.yaml': null, 'guard.yaml': null }),
  );
  const strange = { ...found, id: 0x18fef100, extended: true };
  await acceptFinding(folder, 'control', strange, at(number), { capture, name: 'x' });
  await acceptFinding(folder, 'control', { ...found, id: 0x7 }, at(number), {
    capture,
    name: 'x',
    messageName: 'seat',
  });
  expect(readFileSync(join(folder, 'dictionary/control.yaml'), 'utf8')).toContain('id: 0x18FEF100');
  const { build, problems } = await loadBuild(folder);
  expect(problems).toEqual([]);
  const messages = build?.dictionaries.find((d) => d.bus === 'control')?.messages;
  expect(messages?.map((m) => [m.name, m.id, m.extended, m.periodMs, m.signals.length])).toEqual([
    ['message_18FEF100', 0x18fef100, true, 10, 1],
    ['seat', 7, false, 10, 1],
  ]);
});

test('a rejected finding is kept with the reason, may be accepted later, and its name then changes', async () => {
  const folder = folderWith(wagtail());
  await rejectFinding(folder, 'chassis', found, at(number), { capture, reason: 'moves with the heater' });
  expect(findingState(await chassis(folder), found, at(number))).toBe('rejected');
  expect((await chassis(folder))?.messages[1]?.signals[2]?.note).toBe('moves with the heater');
  await rejectFinding(folder, 'chassis', found, at(found.counter!, 'counter'), { capture });
  expect(findingState(await chassis(folder), found, at(found.counter!, 'counter'))).toBe('rejected');
  await acceptFinding(folder, 'chassis', found, at(number), { capture, name: 'rate', scale: 0.25 });
  const signal = (await chassis(folder))?.messages[1]?.signals[2];
  expect(signal).toMatchObject({ name: 'rate', state: 'accepted', scale: 0.25 });
  expect(signal?.evidence).toHaveLength(2);
});

test('a finding is accepted with a cut by hand, which its evidence tells', async () => {
  const folder = folderWith(wagtail());
  const cut = { start: 36, length: 9, byteOrder: 'big', signed: false } as const;
  await acceptFinding(folder, 'chassis', found, at(number), { capture, name: 'rate', cut });
  const signal = (await chassis(folder))?.messages[1]?.signals[2];
  expect(signal).toMatchObject({ name: 'rate', ...cut });
  expect(signal?.evidence?.at(-1)?.text).toBe(
    'cut by hand; the evidence is of the field found at bit 39, 12 long, big, signed',
  );
});

test('a cue that a signal followed is kept with its name', async () => {
  const folder = folderWith(wagtail());
  const more = [{ text: 'followed the cue “turn left”, chance 0.002', cue: 'turn left' }];
  await acceptFinding(folder, 'chassis', found, at(number), { capture, name: 'rate', more });
  const kept = (await chassis(folder))?.messages[1]?.signals[2]?.evidence;
  expect(kept?.at(-1)).toEqual({ capture, ...more[0] });
});

describe('an entry', () => {
  const angle = { id: 0x0e5, extended: false, start: 0, length: 16, selectorValue: null };

  test('is put right without a word lost around it', async () => {
    const folder = folderWith(wagtail());
    await editSignal(folder, 'chassis', angle, { name: 'wheel angle', scale: 0.05, max: 600 });
    expect(read(folder)).toBe(
      CHASSIS.replace('name: angle ', 'name: wheel angle ')
        .replace('scale: 0.1', 'scale: 0.05')
        .replace('max: 720', 'max: 600'),
    );
  });

  test('that is cut anew says so in its evidence', async () => {
    const folder = folderWith(wagtail());
    await editSignal(folder, 'chassis', angle, { length: 14 });
    const signal = (await chassis(folder))?.messages[1]?.signals[0];
    expect(signal?.length).toBe(14);
    expect(signal?.evidence).toEqual([{ text: 'cut by hand; before it stood at bit 0, 16 long, little' }]);
  });

  test('is not put where another stands, and not under the name of another', async () => {
    const folder = folderWith(wagtail());
    await expect(editSignal(folder, 'chassis', angle, { length: 20 })).rejects.toThrow('nothing was saved');
    await expect(editSignal(folder, 'chassis', angle, { name: 'torque' })).rejects.toThrow(
      'a signal "torque" is in this message already',
    );
    await expect(editSignal(folder, 'chassis', { ...angle, start: 1 }, { unit: 'rad' })).rejects.toThrow(
      'the dictionary has no signal at bit 1, 16 long, any more',
    );
    expect(read(folder)).toBe(CHASSIS);
  });
});

test('a rejection that is taken back leaves the dictionary as it was; nothing else can be taken back so', async () => {
  const folder = folderWith(wagtail());
  const place = { id: 0x0e5, extended: false, start: 39, length: 12, selectorValue: null };
  await rejectFinding(folder, 'chassis', found, at(number), { capture });
  await takeBackRejection(folder, 'chassis', place);
  expect(read(folder)).toBe(CHASSIS);
  await expect(takeBackRejection(folder, 'chassis', { ...place, start: 0, length: 16 })).rejects.toThrow(
    'the field at bit 0, 16 long, is not rejected',
  );
});

test('an entry that somebody named keeps its name through rejection and back', async () => {
  const folder = folderWith(wagtail());
  const angle = { id: 0x0e5, extended: false, start: 0, length: 16, selectorValue: null };
  await rejectEntry(folder, 'chassis', angle, 'follows the other axle');
  expect((await loadBuild(folder)).build?.dictionaries[0]?.messages[1]?.signals[0]).toMatchObject({
    name: 'angle',
    state: 'rejected',
    note: 'follows the other axle',
  });
  await expect(rejectEntry(folder, 'chassis', angle, '')).rejects.toThrow('is rejected already');
  await takeBackRejection(folder, 'chassis', angle);
  expect((await chassis(folder))?.messages[1]?.signals[0]).toMatchObject({
    name: 'angle',
    state: 'proposed',
  });
});

test('a change is undone unless somebody changed the file since', async () => {
  const folder = folderWith(wagtail());
  const change = await rejectFinding(folder, 'chassis', found, at(number), { capture });
  await undoChange(folder, change);
  expect(read(folder)).toBe(CHASSIS);
  await expect(undoChange(folder, change)).rejects.toThrow('was changed by someone else');
});

describe('what cannot be taken in leaves the file as it was and says why', () => {
  const cases: [string, () => [FoundMessage, ReturnType<typeof at>, object], string][] = [
    ['a signal without a name', () => [found, at(number), {}], 'a signal needs a name'],
    [
      'a name that is taken',
      () => [found, at(number), { name: 'torque' }],
      'a signal "torque" is in this message',
    ],
    ['accepted before', () => [found, at(found.signals[1]!), { name: 'again' }], 'is accepted already'],
    [
      'a finding that is not there',
      () => [found, at({ start: 3, length: 9 }), { name: 'x' }],
      'the signal at bit 3, 9 long, of message 0E5 was not found in this capture',
    ],
    ['a constant', () => [found, at(found.signals[2]!), { name: 'x' }], 'only a number, a flag or an enum'],
    [
      'bits that another signal has',
      () => [{ ...found, signals: [{ ...number, start: 20 }] }, at({ start: 20, length: 12 }), { name: 'x' }],
      'it does not fit into dictionary/chassis.yaml: found x claims bits',
    ],
  ];
  for (const [name, make, sentence] of cases) {
    test(name, async () => {
      const folder = folderWith(wagtail());
      const [message, target, options] = make();
      await expect(
        acceptFinding(folder, 'chassis', message, target, { capture, ...options }),
      ).rejects.toThrow(sentence);
      expect(read(folder)).toBe(CHASSIS);
    });
  }

  test('a dictionary with a mistake in it', async () => {
    const broken = CHASSIS.replace('length: 8', 'length: eight');
    const folder = folderWith(wagtail({ 'dictionary/chassis.yaml': broken }));
    await expect(acceptFinding(folder, 'chassis', found, at(number), { capture, name: 'x' })).rejects.toThrow(
      'mend the dictionary first: dictionary/chassis.yaml:6:13: messages[0].length',
    );
    expect(read(folder)).toBe(broken);
  });
});
