/** Units of measured series: the spellings that mean the same, and factors between units of one quantity. */

/** Units by quantity, each in its usual spelling with the factor to the first of its quantity. Exact by definition (SI, 1959 yard and pound). */
const QUANTITIES: readonly (readonly (readonly [unit: string, factor: number, ...spellings: string[]])[])[] =
  [
    [
      ['m/s', 1, 'mps', 'ms-1'],
      ['km/h', 1 / 3.6, 'kmh', 'kph', 'kmph', 'km/hr'],
      ['mph', 0.44704, 'mi/h'],
      ['kn', 1852 / 3600, 'kt', 'kts', 'knot', 'knots'],
    ],
    [
      ['m/s²', 1, 'm/s2', 'm/s^2', 'mps2'],
      ['g', 9.80665],
    ],
    [
      ['deg', 1, '°', 'degree', 'degrees'],
      ['rad', 180 / Math.PI],
    ],
    [
      ['deg/s', 1, '°/s', 'degps', 'degpers'],
      ['rad/s', 180 / Math.PI, 'radps', 'radpers'],
    ],
    [
      ['m', 1, 'metre', 'metres', 'meter', 'meters'],
      ['mm', 1e-3],
      ['cm', 1e-2],
      ['km', 1e3],
      ['ft', 0.3048, 'feet'],
    ],
    [
      ['bar', 1],
      ['kPa', 1e-2],
      ['Pa', 1e-5],
      ['MPa', 10],
      ['psi', 0.0689475729],
    ],
    [
      ['V', 1, 'volt', 'volts'],
      ['mV', 1e-3],
    ],
    [
      ['A', 1, 'amp', 'amps'],
      ['mA', 1e-3],
    ],
    [['rpm', 1, '1/min', 'min-1', 'r/min']],
    [['N·m', 1, 'nm', 'n*m', 'n.m']],
    [
      ['N', 1],
      ['kN', 1e3],
    ],
    [['°C', 1, 'degc', 'c', 'celsius']],
    [['%', 1, 'percent', 'pct']],
  ];

const KNOWN = new Map<string, { unit: string; quantity: number; factor: number }>();
for (const [quantity, units] of QUANTITIES.entries())
  for (const [unit, factor, ...spellings] of units)
    for (const word of [unit, ...spellings])
      for (const key of [word, `${word.toLowerCase()}\0`])
        if (!KNOWN.has(key)) KNOWN.set(key, { unit, quantity, factor });

function known(word: string) {
  const text = word.trim().replaceAll(' ', '');
  return KNOWN.get(text) ?? KNOWN.get(`${text.toLowerCase()}\0`);
}

/** The usual spelling of a unit ("kmh" → "km/h"); null where the word is no unit known here. */
export function unitNamed(word: string): string | null {
  return known(word)?.unit ?? null;
}

/** value in `to` = value in `from` × factor; null where the two are not units of one quantity. */
export function unitFactor(from: string, to: string): number | null {
  if (from.trim() === to.trim()) return 1;
  const [a, b] = [known(from), known(to)];
  if (!a || !b || a.quantity !== b.quantity) return null;
  return a.factor / b.factor;
}

/** Name and unit of a column from its header: "speed [km/h]", "speed (km/h)", "speed, km/h", "speed_kmh". */
export function columnHeader(header: string): { name: string; unit: string } {
  const text = header.trim();
  const bracket = /^(.*?)\s*[[({]\s*([^\])}]*?)\s*[\])}]$/.exec(text) ?? /^(.*?)\s*,\s*(\S+)$/.exec(text);
  if (bracket) {
    const unit = bracket[2] as string;
    return { name: bracket[1] || text, unit: unitNamed(unit) ?? unit };
  }
  // The longest ending first: "rate_deg_per_s" ends in "deg_per_s" and not in "s".
  const parts = text.split('_');
  for (let n = Math.min(3, parts.length - 1); n >= 1; n--) {
    const unit = unitNamed(parts.slice(-n).join('').replace(/per/g, '/'));
    if (unit !== null && parts.slice(-n).join('').length > 0)
      return { name: parts.slice(0, -n).join('_'), unit };
  }
  return { name: text, unit: '' };
}
