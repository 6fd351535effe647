/** Buses that share a name or a number, and data bit rates below the arbitration rate. */
import type { Check } from './index.ts';
import { problemAt, repeats } from './place.ts';

export const busesCheck: Check = ({ buses }, sources) => {
  const at = (field: string, found: string, expected: string) =>
    problemAt(sources, 'buses.yaml', field, found, expected);
  return [
    ...repeats(buses, (bus) => bus.name).map((i) =>
      at(`buses[${i}].name`, `a second bus "${buses[i]!.name}"`, 'a name of its own for each bus'),
    ),
    ...repeats(buses, (bus) => bus.number).map((i) =>
      at(
        `buses[${i}].number`,
        `number ${buses[i]!.number} a second time`,
        'a number of its own for each bus, as in the captures',
      ),
    ),
    ...buses.flatMap((bus, i) =>
      bus.dataBitRateBps !== undefined && bus.dataBitRateBps < bus.bitRateBps
        ? [
            at(
              `buses[${i}].data_bit_rate_bps`,
              `${bus.dataBitRateBps} bits per second`,
              `at least the bit rate of ${bus.bitRateBps}`,
            ),
          ]
        : [],
    ),
  ];
};
