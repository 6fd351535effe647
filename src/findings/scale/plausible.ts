/**
 * Factors that designers of messages choose: 1, 2, 5 and 2.5 × 10ⁿ, powers of two, the resolutions of SAE J1939-71 and NMEA 2000, and
 * all of these in another unit.
 */

export interface Plausible {
  factor: number;
  /** 0 the plainest; a less plain one needs a closer fit. */
  tier: 0 | 1 | 2 | 3;
  why: string;
}

/** Other units in which a quantity is often sent, by the unit it is measured in (factors exact by definition of the units). */
const SENT_AS: Readonly<Record<string, readonly (readonly [number, string])[]>> = {
  'km/h': [
    [3.6, 'm/s'],
    [1.609344, 'mile/h'],
  ],
  'm/s': [
    [1 / 3.6, 'km/h'],
    [1.852 / 3.6, 'knots'],
  ],
  knots: [[3.6 / 1.852, 'm/s']],
  '°': [[180 / Math.PI, 'rad']],
  deg: [[180 / Math.PI, 'rad']],
  rad: [[Math.PI / 180, 'degrees']],
  '°/s': [[180 / Math.PI, 'rad/s']],
  'deg/s': [[180 / Math.PI, 'rad/s']],
  'rad/s': [[Math.PI / 180, 'degrees/s']],
  'm/s²': [[9.80665, 'g']],
  'm/s^2': [[9.80665, 'g']],
  g: [[1 / 9.80665, 'm/s²']],
};
/** Between two signals either may be in any of these: only the commonest. */
const BETWEEN: readonly (readonly [number, string])[] = [
  [3.6, 'm/s'],
  [1 / 3.6, 'km/h'],
];

/** Resolutions of SAE J1939-71 that are neither round nor powers of two (as cited in shared references of the standard). */
const STANDARD: readonly (readonly [number, string])[] = [
  [0.4, 'SAE J1939-71, % in 8 bits'],
  [0.125, 'SAE J1939-71, 1/min in 16 bits'],
  [1 / 256, 'SAE J1939-71, km/h in 16 bits'],
  [1 / 128, 'SAE J1939-71, degrees in 16 bits'],
  [1 / 1024, 'SAE J1939-71, rad in 16 bits'],
  [1 / 8192, 'SAE J1939-71, rad/s in 16 bits'],
  [0.03125, 'SAE J1939-71, °C in 16 bits'],
];

const ROUND: Plausible[] = [];
for (let n = -6; n <= 4; n++) {
  for (const digit of [1, 2, 5]) ROUND.push({ factor: digit * 10 ** n, tier: 0, why: 'a round figure' });
  ROUND.push({ factor: 2.5 * 10 ** n, tier: 1, why: 'a quarter of a round figure' });
}
for (let n = 1; n <= 14; n++) ROUND.push({ factor: 2 ** -n, tier: 1, why: `1/${2 ** n}` });
for (let n = 1; n <= 10; n++) ROUND.push({ factor: 2 ** n, tier: 1, why: `${2 ** n}` });
const LISTED: Plausible[] = [
  ...ROUND,
  ...STANDARD.map(([factor, why]): Plausible => ({ factor, tier: 1, why })),
  ...[3, 4, 6, 8, 15, 25, 75].map(
    (n): Plausible => ({ factor: n / 100, tier: 2, why: 'a whole number of hundredths' }),
  ),
];

/** How many factors of a tier or plainer there are in a decade, on average, without other units. */
const PER_DECADE: readonly number[] = [3, 8, 11];
/** Share of accidental hits that is allowed. */
const ACCIDENT = 0.3;

export interface PlausibleOptions {
  /** Unit of the measured side: other units of the same quantity are then looked at as well. `any` between two signals. */
  unit?: string;
}

/**
 * The plainest plausible factor between `low` and `high` (both of one sign), or null where none is or where so wide a range
 * would hold one by accident. `accident`: how many factors so plain a range of this width holds on average.
 */
export function plausibleFactor(
  low: number,
  high: number,
  { unit = '' }: PlausibleOptions = {},
): (Plausible & { accident: number }) | null {
  const sign = Math.sign(low + high);
  const [small, large] = [Math.min(Math.abs(low), Math.abs(high)), Math.max(Math.abs(low), Math.abs(high))];
  if (sign === 0 || low * high <= 0) return null;
  const decades = Math.log10(large / small);
  const middle = Math.sqrt(small * large);
  const others = unit === 'any' ? BETWEEN : (SENT_AS[unit] ?? []);
  for (const tier of [0, 1, 2, 3] as const) {
    const perDecade = (PER_DECADE[Math.min(tier, 2)] as number) + (tier < 3 ? 0 : 3 * others.length);
    if (perDecade * decades > ACCIDENT) return null;
    const [first] = (tier < 3 ? LISTED.filter((p) => p.tier === tier) : elsewhere(others))
      .filter(({ factor }) => factor >= small && factor <= large)
      .sort((a, b) => Math.abs(Math.log(a.factor / middle)) - Math.abs(Math.log(b.factor / middle)));
    if (first) return { ...first, factor: sign * first.factor, accident: perDecade * decades };
  }
  return null;
}

function elsewhere(others: readonly (readonly [number, string])[]): Plausible[] {
  return others.flatMap(([times, unit]) =>
    ROUND.filter((r) => r.tier === 0).map(
      (r): Plausible => ({
        factor: r.factor * times,
        tier: 3,
        why: `${Number(r.factor.toPrecision(3))} ${unit}`,
      }),
    ),
  );
}
