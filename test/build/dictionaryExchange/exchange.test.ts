import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { asImported, planImport, saveImport } from '../../../src/build/dictionaryExchange/apply.ts';
import { readDefinitions } from '../../../src/build/dictionaryExchange/read.ts';
import { definitionsFile } from '../../../src/build/dictionaryExchange/write.ts';
import { loadBuild } from '../../../src/build/load.ts';
import type { Build } from '../../../src/build/model.ts';
import { folderWith, wagtail } from '../folder.ts';

async function demo(): Promise<Build> {
  return (await loadBuild('demo')).build as Build;
}

describe('files of message definitions', () => {
  test('every format of the demo, read again, is the same and has nothing to add', async () => {
    const build = await demo();
    const folder = folderWith({});
    for (const dictionary of build.dictionaries)
      for (const format of ['csv', 'xlsx', 'arxml', 'yaml'] as const) {
        const path = join(folder, `out.${format}`);
        writeFileSync(path, definitionsFile(build, format, dictionary.bus));
        const read = await readDefinitions(path, dictionary.bus);
        expect([...read.problems, ...read.questions]).toEqual([]);
        expect(read.dictionary).toEqual(dictionary);
        const plan = await planImport('demo', dictionary.bus, asImported(read.dictionary, 'x', 'proposed'));
        expect(plan.items).toEqual([]);
        expect(plan.text).toBe(readFileSync(join('demo', plan.file), 'utf8'));
      }
  });

  test('the whole build in one table or description: each bus is found by its name, others are left out and said', async () => {
    const build = await demo();
    const folder = folderWith({});
    for (const format of ['csv', 'xlsx', 'arxml'] as const) {
      const path = join(folder, `all.${format}`);
      writeFileSync(path, definitionsFile(build, format, undefined));
      const read = await readDefinitions(path, 'column');
      expect(read.dictionary).toEqual(build.dictionaries.find((d) => d.bus === 'column'));
      expect(read.notes.join('; ')).toMatch(
        /rows of other buses left out|buses left out: chassis, controller/,
      );
    }
    await expect(readDefinitions(join(folder, 'all.arxml'), 'body')).rejects.toThrow(
      /it has no bus "body"; name one of its own with --file-bus: chassis, column, controller$/,
    );
    const table = await readDefinitions(join(folder, 'all.csv'), 'body');
    expect(table.problems[0]).toMatchObject({
      place: 'the table',
      found: 'rows of 3 buses (chassis, column, controller)',
    });
    expect(() => definitionsFile(build, 'yaml', undefined)).toThrow(/a YAML file holds one bus/);
    expect(() => definitionsFile(build, 'csv', 'body')).toThrow(
      'no dictionary of bus "body": there are those of chassis, column, controller',
    );
  });

  test('text in other encodings is read and said; a file that is none of its kind gives one sentence', async () => {
    const rows = 'id;name;start;bits;order;unit\n0x10;é;0;8;little;°\n';
    const folder = folderWith({
      'latin.csv': Buffer.from(rows, 'latin1'),
      'wide.csv': Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(rows, 'utf16le')]),
      'plain.csv': rows,
      'no.xlsx': rows,
      'no.arxml': '<AUTOSAR>',
      'no.yaml': 'form: dictionary/1\nbus: chassis\nmessages:\n  - name: x\n',
      'latin.arxml': Buffer.from('<AUTOSAR>é</AUTOSAR>', 'latin1'),
    });
    for (const name of ['latin.csv', 'wide.csv', 'plain.csv']) {
      const { dictionary } = await readDefinitions(join(folder, name), 'chassis');
      expect(dictionary.messages[0]?.signals[0]).toMatchObject({ name: 'é', unit: '°' });
    }
    expect((await readDefinitions(join(folder, 'latin.csv'), 'chassis')).notes[0]).toMatch(/^not UTF-8/);
    const sentences: [string, RegExp][] = [
      ['no.xlsx', /no\.xlsx: it is no \.xlsx file/],
      ['no.arxml', /no\.arxml: line 1: found broken XML/],
      ['no.yaml', /no\.yaml: line 4 \(messages\[0\]\.id\): found no field "id"/],
      ['latin.arxml', /bytes that are not UTF-8/],
      ['gone.csv', /ENOENT/],
      ['x.doc', /names no format of message definitions/],
    ];
    for (const [name, sentence] of sentences)
      await expect(readDefinitions(join(folder, name), 'chassis')).rejects.toThrow(sentence);
  });

  test('a dictionary that changed since it was read is left alone', async () => {
    const folder = folderWith({ ...wagtail(), 'more.csv': 'id,name,start,bits,order\n0x10,a,0,8,little\n' });
    const { dictionary } = await readDefinitions(join(folder, 'more.csv'), 'chassis');
    const plan = await planImport(folder, 'chassis', asImported(dictionary, 'more', 'proposed'));
    const file = join(folder, plan.file);
    const changed = `${readFileSync(file, 'utf8')}# a line of the user\n`;
    writeFileSync(file, changed);
    await expect(saveImport(folder, plan)).rejects.toThrow(/was changed by someone else since it was read/);
    expect(readFileSync(file, 'utf8')).toBe(changed);
  });
});
