/** Dictionaries of a build as a file for others. */
import { writeAutosar } from '../../dictionary/autosar/index.ts';
import { sparseDictionary } from '../../dictionary/sparse.ts';
import { tableOf, textRows, writeCsv } from '../../dictionary/tables/index.ts';
import { blockText } from '../edit.ts';
import type { Build } from '../model.ts';
import { type DefinitionFormat, DefinitionsError } from './read.ts';
import { writeSpreadsheet } from './spreadsheet.ts';

/** Content of the file; throws `DefinitionsError` where the build has no such dictionary. */
export function definitionsFile(
  build: Build,
  format: DefinitionFormat,
  bus: string | undefined,
): string | Uint8Array {
  const dictionaries = dictionariesOf(build, bus);
  switch (format) {
    case 'csv':
      return writeCsv(textRows(tableOf(dictionaries)));
    case 'xlsx':
      return writeSpreadsheet(tableOf(dictionaries), bus ?? 'dictionaries');
    case 'yaml': {
      if (dictionaries.length > 1)
        throw new DefinitionsError(
          `a YAML file holds one bus; name it with --bus: ${dictionaries.map((d) => d.bus).join(', ')}`,
        );
      return `${blockText(sparseDictionary(dictionaries[0] as (typeof dictionaries)[0]), 0)}\n`;
    }
    case 'arxml':
      return writeAutosar(
        dictionaries.map((dictionary) => {
          const rates = build.buses.find((b) => b.name === dictionary.bus);
          return { dictionary, bitRateBps: rates?.bitRateBps, dataBitRateBps: rates?.dataBitRateBps };
        }),
      );
  }
}

/** Throws `DefinitionsError` where there is none. */
export function dictionariesOf(build: Build, bus: string | undefined): Build['dictionaries'] {
  const all = build.dictionaries;
  const chosen = bus === undefined ? all : all.filter((d) => d.bus === bus);
  if (chosen.length > 0) return chosen;
  const there =
    all.length === 0 ? 'the build has none yet' : `there are those of ${all.map((d) => d.bus).join(', ')}`;
  throw new DefinitionsError(`no dictionary${bus === undefined ? '' : ` of bus "${bus}"`}: ${there}`);
}
