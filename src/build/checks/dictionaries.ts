/** Dictionaries against the buses and units of the build, and against themselves. */
import { basename } from 'node:path';
import { dictionaryProblems } from '../../dictionary/problems.ts';
import { nearest } from '../nearest.ts';
import { fieldText } from '../problem.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt } from './place.ts';

export const dictionariesCheck: Check = ({ buses, units, dictionaries }, sources) => {
  const busNames = buses.map((bus) => bus.name);
  const unitNames = units.map((unit) => unit.name);
  const files = [...sources.parsed.keys()].filter((file) => file.startsWith('dictionary/'));
  return files.flatMap((file, f) => {
    const dictionary = dictionaries[f]!;
    const { bus, messages } = dictionary;
    const at = (field: string, found: string, expected: string) =>
      problemAt(sources, file, field, found, expected);
    const problems = dictionaryProblems(dictionary).map((p) => at(fieldText(p.path), p.found, p.expected));
    if (!busNames.includes(bus))
      problems.push(at('bus', `bus "${bus}"`, meant(bus, busNames, 'bus of buses.yaml')));
    else if (bus !== basename(file, '.yaml'))
      problems.push(at('bus', `bus "${bus}"`, `the name of the file, ${bus}.yaml`));
    for (const [i, { sender }] of messages.entries()) {
      if (sender !== undefined && !unitNames.includes(sender))
        problems.push(
          at(`messages[${i}].sender`, `unit "${sender}"`, meant(sender, unitNames, 'unit of units.yaml')),
        );
    }
    return problems;
  });
};

function meant(written: string, known: readonly string[], what: string): string {
  const near = nearest(written, known);
  return near === null ? oneOf(`a ${what}`, known) : `"${near}", or another ${what}`;
}
