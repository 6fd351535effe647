/** Units of signals, as far as the gateway must convert between them. */

/**
 * Factor from a value in `from` to a value in `to`; null where the units are unknown or measure different things.
 * Factors are exact by definition of the units (km/h, degree: SI brochure; mile per hour and g: from memory).
 */
export function unitGain(from: string, to: string): number | null {
  const a = UNITS[spelling(from)];
  const b = UNITS[spelling(to)];
  if (!a || !b || a.quantity !== b.quantity) return null;
  return a.factor === b.factor ? 1 : a.factor / b.factor;
}

/** Spellings of the units that measure the same as `unit`, for a message that says what would be right. */
export function unitsLike(unit: string): string[] {
  const quantity = UNITS[spelling(unit)]?.quantity;
  return SPELLINGS.filter((s) => UNITS[spelling(s)]?.quantity === quantity);
}

interface UnitFactor {
  quantity: string;
  /** Value in the coherent unit of the quantity (m/s, degree, N·m, m/s², second, bar, volt). */
  factor: number;
}

const TABLE: [quantity: string, factor: number, ...spellings: string[]][] = [
  ['speed', 1, 'm/s', 'mps'],
  ['speed', 1 / 3.6, 'km/h', 'kmh', 'kph'],
  ['speed', 0.44704, 'mph'],
  ['angle', 1, '°', 'deg', 'degree', 'degrees'],
  ['angle', 180 / Math.PI, 'rad'],
  ['angular speed', 1, '°/s', 'deg/s'],
  ['angular speed', 180 / Math.PI, 'rad/s'],
  ['torque', 1, 'N·m', 'Nm', 'N m', 'N*m'],
  ['torque', 0.001, 'mN·m', 'mNm'],
  ['acceleration', 1, 'm/s²', 'm/s2', 'm/s^2'],
  ['acceleration', 9.80665, 'g'],
  ['time', 1, 's'],
  ['time', 0.001, 'ms'],
  ['share', 1, '%'],
  ['pressure', 1, 'bar'],
  ['pressure', 10, 'MPa'],
  ['pressure', 0.01, 'kPa'],
  ['voltage', 1, 'V'],
  ['voltage', 0.001, 'mV'],
  ['none', 1, '', '1', '-'],
];

const SPELLINGS = TABLE.flatMap(([, , ...spellings]) => spellings);
const UNITS: Record<string, UnitFactor | undefined> = Object.fromEntries(
  TABLE.flatMap(([quantity, factor, ...spellings]) =>
    spellings.map((s) => [spelling(s), { quantity, factor }] as const),
  ),
);

/** One spelling per unit: no spaces, one kind of dot, case kept (m and M differ). */
function spelling(unit: string): string {
  return unit.replace(/º/g, '°').normalize('NFKC').replace(/\s/g, '').replace(/[⋅•]/g, '·');
}
