/** The invented demo in every format for others, and back. */
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { readAutosar, writeAutosar } from '../../../src/dictionary/autosar/index.ts';
import { camelKeys } from '../../../src/dictionary/case.ts';
import type { Dictionary } from '../../../src/dictionary/model.ts';
import { dictionarySchema } from '../../../src/dictionary/schema.ts';
import { sparseDictionary } from '../../../src/dictionary/sparse.ts';
import { readCsv, readTable, tableOf, textRows, writeCsv } from '../../../src/dictionary/tables/index.ts';

const buses = ['chassis', 'column', 'controller'];
const demo = buses.map((bus): Dictionary => {
  const text = readFileSync(resolve('demo/dictionary', `${bus}.yaml`), 'utf8');
  return camelKeys(dictionarySchema.parse(parse(text)));
});

describe('the dictionaries of the demo', () => {
  test('come back from one table of all buses as they were', () => {
    const { table } = readCsv(writeCsv(textRows(tableOf(demo))));
    for (const dictionary of demo) {
      const read = readTable(table, dictionary.bus, { fileBus: dictionary.bus });
      expect(read.problems).toEqual([]);
      expect(read.dictionary).toEqual(dictionary);
    }
  });

  test('come back from one system description as they were, and from dictionary files in short spelling', () => {
    const read = readAutosar(writeAutosar(demo.map((dictionary) => ({ dictionary }))));
    expect(read).toEqual({ dictionaries: demo, leftOut: [], problems: [] });
    for (const dictionary of demo)
      expect(camelKeys(dictionarySchema.parse(sparseDictionary(dictionary)))).toEqual(dictionary);
  });

  test('say by standard elements alone what every other reader of AUTOSAR needs: names, places, conversions, limits, senders, periods', () => {
    const text = writeAutosar(demo.map((dictionary) => ({ dictionary })));
    const bare = text.replace(/ *<ADMIN-DATA>[\s\S]*?<\/ADMIN-DATA>\n/g, '');
    expect(bare).not.toContain('Bywright');
    const read = readAutosar(bare);
    expect(read.problems).toEqual([]);
    const definition = (d: Dictionary) =>
      d.messages.map(({ counter, check, signals, ...message }) => ({
        ...message,
        signals: signals
          .map(({ evidence: _, state: __, ...signal }) => signal)
          .sort((a, b) => a.start - b.start || (a.selectorValue ?? -1) - (b.selectorValue ?? -1)),
      }));
    // Counters and check fields are numbers to others.
    const withoutFields = read.dictionaries.map((d) => ({
      ...d,
      messages: d.messages.map((m) => ({
        ...m,
        signals: m.signals.filter((s) => s.name !== `${m.name} counter` && s.name !== `${m.name} check`),
      })),
    }));
    expect(withoutFields.map(definition)).toEqual(demo.map(definition));
  });
});
