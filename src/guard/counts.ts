/** The integers in which guards count: physical value = count × `perCount(unit)`. */

/** Physical value of one count in a unit, exact. */
export function perCount(unit: string): number {
  const value = PER_COUNT[unit];
  if (value === undefined) throw new RangeError(`guards do not count in ${unit}`);
  return value;
}

const PER_COUNT: Record<string, number> = {
  '°': 0.01,
  '°/s': 0.01,
  N·m: 0.01,
  'm/s': 0.01,
  'm/s²': 0.001,
  bar: 0.01,
  '%': 0.01,
  V: 0.001,
};

/** Highest speed that a guard counts, 0.01 m/s. */
export const speedHi = 10_000;
