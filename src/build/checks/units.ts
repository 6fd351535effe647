/** Units that share a name, and units on buses that do not exist. */
import { nearest } from '../nearest.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt, repeats } from './place.ts';

export const unitsCheck: Check = ({ units, buses }, sources) => {
  const names = buses.map((bus) => bus.name);
  const at = (field: string, found: string, expected: string) =>
    problemAt(sources, 'units.yaml', field, found, expected);
  return [
    ...repeats(units, (unit) => unit.name).map((i) =>
      at(`units[${i}].name`, `a second unit "${units[i]!.name}"`, 'a name of its own for each unit'),
    ),
    ...units.flatMap((unit, i) =>
      unit.buses.flatMap((bus, j) => {
        if (names.includes(bus)) return [];
        const near = nearest(bus, names);
        const expected =
          near === null ? oneOf('a bus of buses.yaml', names) : `"${near}", or another bus of buses.yaml`;
        return [at(`units[${i}].buses[${j}]`, `bus "${bus}"`, expected)];
      }),
    ),
    ...units.flatMap((unit, i) =>
      repeats(unit.buses, (bus) => bus).map((j) =>
        at(`units[${i}].buses[${j}]`, `bus "${unit.buses[j]}" a second time`, 'each bus once'),
      ),
    ),
  ];
};
