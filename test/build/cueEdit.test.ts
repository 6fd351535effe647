import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Cue, changeCues, newSheetFile, readCueSheets } from '../../src/build/cueEdit.ts';
import { cueOverlaps } from '../../src/build/cueOverlaps.ts';
import { loadBuild } from '../../src/build/load.ts';
import { folderWith, wagtail } from './folder.ts';

const SHEET = `# what was done by hand
form: cues/1
capture: drive.csv
cues:
  # standing
  - { name: brake pressed, start_s: 1.50, end_s: 2.5, note: standing } # twice
  # moving
  - name: wheel left    # to the stop
    start_s: 4
    end_s: 6.0
    level: 30
  - { name: wheel right, start_s: 7, end_s: 8 }
`;
const FILE = 'cues/drive.yaml';

async function opened(text = SHEET) {
  const folder = folderWith({ ...wagtail(), [FILE]: text, 'captures/drive.csv': '' });
  const sheet = async () => {
    const { sheets } = await readCueSheets(folder, 'drive.csv');
    if (!sheets[0]) throw new Error('no sheet');
    return sheets[0];
  };
  const change = async (what: Parameters<typeof changeCues>[4]) =>
    changeCues(folder, 'drive.csv', FILE, (await sheet()).hash, what);
  return { folder, sheet, change, text: () => readFileSync(join(folder, FILE), 'utf8') };
}

describe('a cue', () => {
  test('is added at the end, every other byte as it was', async () => {
    const { change, text } = await opened();
    await change({ do: 'add', cue: { name: 'stop button', startS: 9.0000004, endS: 9.25 } });
    expect(text()).toBe(`${SHEET}  - name: stop button\n    start_s: 9\n    end_s: 9.25\n`);
  });

  test('is changed where it stands: only what differs', async () => {
    const { change, text } = await opened();
    await change({
      do: 'change',
      index: 0,
      cue: { name: 'brake pressed', startS: 1.5, endS: 2.75, note: 'standing' },
    });
    expect(text()).toBe(SHEET.replace('end_s: 2.5,', 'end_s: 2.75,'));
    await change({
      do: 'change',
      index: 0,
      cue: { name: 'brake pressed', startS: 1.5, endS: 2.5, level: 12 },
    });
    expect(text()).toBe(SHEET.replace(', note: standing', ', level: 12'));
    await change({
      do: 'change',
      index: 2,
      cue: { name: 'wheel right', startS: 7, endS: 8, note: 'a, "b"' },
    });
    expect(text()).toContain('  - { name: wheel right, start_s: 7, end_s: 8, note: "a, \\"b\\"" }\n');
  });

  test('is deleted with its lines; comments on lines of their own stay', async () => {
    const { change, text, sheet } = await opened();
    await change({ do: 'delete', index: 1 });
    expect(text()).toBe(SHEET.replace(/ {2}- name: wheel left[^-]*/, '  '));
    expect(text()).toContain('  # moving\n  - { name: wheel right');
    await change({ do: 'delete', index: 0 });
    await change({ do: 'delete', index: 0 });
    expect((await sheet()).cues).toEqual([]);
    expect(text()).toContain('# what was done by hand');
  });

  test('that ends before it starts, or has no name, is refused and nothing is written', async () => {
    const { change, text } = await opened();
    await expect(change({ do: 'add', cue: { name: 'x', startS: 3, endS: 2.5 } })).rejects.toThrow(
      'the cue "x" would end at 2.5 s, before it starts at 3 s',
    );
    await expect(change({ do: 'add', cue: { name: ' ', startS: 3, endS: 4 } })).rejects.toThrow(
      'needs a name',
    );
    await expect(change({ do: 'delete', index: 3 })).rejects.toThrow('no cue number 4');
    expect(text()).toBe(SHEET);
  });

  test('is not written over what somebody else wrote meanwhile', async () => {
    const { folder, sheet, text } = await opened();
    const { hash } = await sheet();
    writeFileSync(join(folder, FILE), `${SHEET}# theirs\n`);
    const cue = { name: 'x', startS: 3, endS: 4 };
    await expect(changeCues(folder, 'drive.csv', FILE, hash, { do: 'add', cue })).rejects.toThrow(
      'was changed by someone else',
    );
    await expect(changeCues(folder, 'drive.csv', FILE, null, { do: 'add', cue })).rejects.toThrow(
      'someone else',
    );
    expect(text()).toBe(`${SHEET}# theirs\n`);
  });

  test('after any changes is what the sheet holds, and the sheet has no problem', async () => {
    const cue = fc.record(
      {
        name: fc.string({ minLength: 1 }).filter((s) => s.trim() !== ''),
        startS: fc.integer({ min: 0, max: 1e7 }).map((n) => n / 1000),
        width: fc.integer({ min: 0, max: 1e4 }),
        level: fc.integer({ min: -50, max: 50 }),
        note: fc.string({ minLength: 1 }).filter((s) => s.trim() !== ''),
      },
      { requiredKeys: ['name', 'startS', 'width'] },
    );
    const step = fc.record({ what: fc.constantFrom('add', 'change', 'delete'), at: fc.nat(5), cue });
    await fc.assert(
      fc.asyncProperty(fc.array(step, { maxLength: 5 }), async (steps) => {
        const { change, sheet } = await opened();
        const wanted: Cue[] = (await sheet()).cues.slice();
        for (const { what, at, cue: given } of steps) {
          const { width, ...rest } = given;
          const endS = Math.round((rest.startS + width / 1000) * 1e6) / 1e6;
          const made: Cue = { ...rest, name: rest.name.trim(), endS };
          if (made.note !== undefined) made.note = made.note.trim();
          const index = at % Math.max(1, wanted.length);
          if (what === 'add') {
            await change({ do: 'add', cue: made });
            wanted.push(made);
          } else if (wanted.length > 0) {
            await change(what === 'change' ? { do: 'change', index, cue: made } : { do: 'delete', index });
            wanted.splice(index, 1, ...(what === 'change' ? [made] : []));
          }
        }
        expect((await sheet()).cues).toEqual(wanted);
      }),
      { numRuns: 40 },
    );
  });
});

test('a sheet begins with its first cue, under the name of the capture or one that is free', async () => {
  const folder = folderWith({ ...wagtail(), 'captures/other.csv.gz': '' });
  const file = await newSheetFile(folder, 'other.csv.gz');
  expect(file).toBe('cues/other.yaml');
  await changeCues(folder, 'other.csv.gz', file, null, { do: 'add', cue: { name: 'x', startS: 1, endS: 2 } });
  expect((await loadBuild(folder)).problems).toEqual([]);
  expect((await readCueSheets(folder, 'other.csv.gz')).sheets[0]?.cues).toEqual([
    { name: 'x', startS: 1, endS: 2 },
  ]);
  expect(await newSheetFile(folder, 'other.pcap')).toBe('cues/other-2.yaml');
  expect(existsSync(join(folder, 'cues/other-2.yaml'))).toBe(false);
});

test('cues of one name that lie over each other are told as a caution by check, reversed times as an error', async () => {
  const line = (name: string, start: number, end: number) =>
    `  - { name: ${name}, start_s: ${start}, end_s: ${end} }\n`;
  const { folder } = await opened(
    `form: cues/1\ncapture: drive.csv\ncues:\n${line('a', 1, 5)}${line('b', 2, 3)}${line('a', 4, 6)}${line('a', 6, 7)}${line('c', 3, 2)}`,
  );
  const { problems } = await loadBuild(folder);
  expect(problems.map(({ line, found, weight }) => [line, found, weight])).toEqual([
    [6, '4 s, while "a" of line 4 lasts until 5 s', 'caution'],
    [8, '2 s', undefined],
  ]);
});

test('an overlap is found exactly where two cues of one name share a stretch', () => {
  const cue = fc.record({
    name: fc.constantFrom('a', 'b'),
    startS: fc.nat(20),
    width: fc.integer({ min: 1, max: 6 }),
  });
  fc.assert(
    fc.property(fc.array(cue, { maxLength: 8 }), (list) => {
      const cues = list.map(({ name, startS, width }) => ({ name, startS, endS: startS + width }));
      const told = new Set(cueOverlaps(cues).map(({ later }) => later));
      cues.forEach((later, i) => {
        const over = cues.some(
          (c, k) =>
            k !== i &&
            c.name === later.name &&
            (c.startS < later.startS || (c.startS === later.startS && k < i)) &&
            c.endS > later.startS,
        );
        expect(told.has(i)).toBe(over);
      });
    }),
  );
});
