/**
 * Units as they stand at the end of field names (`speed_mps`), their words, and conversions of what people write
 * instead ("120 km/h"), so that an error can name the right number.
 */

interface UnitWord {
  /** As it stands in an error: "a number of kg". */
  word: string;
  /** Factor from the written unit to this one; spelling in lower case without spaces. */
  from: Record<string, number>;
}

/** Longest endings first, because `_deg_per_s` also ends in `_s`. */
const ENDINGS: [string, UnitWord][] = [
  [
    '_deg_per_s',
    { word: 'degrees per second', from: { '°/s': 1, 'deg/s': 1, 'rad/s': 180 / Math.PI, rpm: 6 } },
  ],
  [
    '_n_per_rad',
    { word: 'N/rad', from: { 'n/rad': 1, 'kn/rad': 1000, 'n/deg': 180 / Math.PI, 'n/°': 180 / Math.PI } },
  ],
  ['_kgm2', { word: 'kg·m²', from: { 'kg·m²': 1, 'kgm²': 1, kgm2: 1, kg·m2: 1, 'kg*m2': 1, 'kgm^2': 1 } }],
  ['_mps2', { word: 'm/s²', from: { 'm/s²': 1, 'm/s2': 1, 'm/s^2': 1, g: 9.80665 } }],
  ['_mps3', { word: 'm/s³', from: { 'm/s³': 1, 'm/s3': 1, 'm/s^3': 1 } }],
  [
    '_mps',
    {
      word: 'm/s',
      from: { 'm/s': 1, mps: 1, 'km/h': 1 / 3.6, kmh: 1 / 3.6, kph: 1 / 3.6, mph: 0.44704, 'mi/h': 0.44704 },
    },
  ],
  [
    '_bps',
    {
      word: 'bits per second',
      from: {
        'bit/s': 1,
        bps: 1,
        'kbit/s': 1e3,
        kbps: 1e3,
        k: 1e3,
        kb: 1e3,
        'mbit/s': 1e6,
        mbps: 1e6,
        m: 1e6,
      },
    },
  ],
  ['_deg', { word: 'degrees', from: { '°': 1, deg: 1, degrees: 1, rad: 180 / Math.PI } }],
  ['_kg', { word: 'kg', from: { kg: 1, t: 1000, lb: 0.45359237, lbs: 0.45359237 } }],
  ['_nm', { word: 'N·m', from: { n·m: 1, nm: 1, 'n*m': 1, lbf·ft: 1.3558179, ftlb: 1.3558179 } }],
  ['_ms', { word: 'ms', from: { ms: 1, s: 1000, sec: 1000, min: 60_000, us: 1e-3, µs: 1e-3 } }],
  ['_m', { word: 'm', from: { m: 1, mm: 1e-3, cm: 1e-2, in: 0.0254, ft: 0.3048 } }],
  ['_s', { word: 's', from: { s: 1, sec: 1, ms: 1e-3, min: 60, h: 3600 } }],
];

/** "kg" for `mass_kg`, null where a field's name carries no unit. */
export function unitOf(field: string): string | null {
  return ending(field)?.[1].word ?? null;
}

/** What the text means as a number in the field's unit, null where it is no number with a unit that can be converted. */
export function numberMeant(field: string, text: string): number | null {
  // "1,500" is fifteen hundred to one reader and one and a half to another.
  if (/^\s*[+-]?\d{1,3}(,\d{3})+(?!\d)/.test(text)) return null;
  const parts = /^\s*([+-]?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)\s*(\S*(?:\s\S+)*)\s*$/i.exec(text);
  if (parts === null) return null;
  const value = Number((parts[1] as string).replace(',', '.'));
  const written = (parts[2] as string).toLowerCase().replace(/\s/g, '');
  if (written === '') return value;
  const factor = ending(field)?.[1].from[written];
  return factor === undefined ? null : rounded(value * factor);
}

/**
 * Factor from the unit in one field's name to that in another's, where both have the same stem: 1/3.6 from `speed_kmh`
 * to `speed_mps`. null where the stems differ or the unit is unknown.
 */
export function renamedFactor(written: string, known: string): number | null {
  const found = ending(known);
  if (found === null) return null;
  const stem = known.slice(0, -found[0].length);
  if (!written.startsWith(`${stem}_`)) return null;
  const unit = written
    .slice(stem.length + 1)
    .replace(/_per_/, '/')
    .replaceAll('_', '');
  return found[1].from[unit] ?? null;
}

/** A number as a person would write it: six significant digits, no trailing zeros. */
export function rounded(value: number): number {
  return Number(value.toPrecision(6));
}

function ending(field: string): [string, UnitWord] | null {
  return ENDINGS.find(([end]) => field.endsWith(end)) ?? null;
}
