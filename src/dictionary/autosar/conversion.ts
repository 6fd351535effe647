/**
 * Conversion and physical properties of a signal: COMPU-METHOD, SW-BASE-TYPE, UNIT, DATA-CONSTR of an AUTOSAR system
 * description. phys = (offset + factor × raw) / divisor, from numerator [offset, factor] and denominator [divisor].
 */
import { child, type Element, list, textAt } from '../xml.ts';

export interface Conversion {
  scale: number;
  offset: number;
  values: Record<string, string> | undefined;
  /** What the dictionary cannot hold of it, in words. */
  left: string[];
}

const PLAIN: Conversion = { scale: 1, offset: 0, values: undefined, left: [] };
/** A text that stands for a run of raw values is written out for at most this many. */
const MOST_RUN = 64;

export function conversionOf(method: Element | undefined): Conversion {
  if (method === undefined) return PLAIN;
  const category = textAt(method, 'CATEGORY');
  const left: string[] = [];
  const forward = list(child(method, 'COMPU-INTERNAL-TO-PHYS'), 'COMPU-SCALES', 'COMPU-SCALE');
  const backward = list(child(method, 'COMPU-PHYS-TO-INTERNAL'), 'COMPU-SCALES', 'COMPU-SCALE');
  if (/^(BITFIELD_TEXTTABLE|TAB_NOINTP)$/.test(category))
    return { ...PLAIN, left: [`conversion ${category}: raw values are kept as they are`] };
  const values: [string, string][] = [];
  const lines: { scale: number; offset: number }[] = [];
  let odd = 0;
  for (const [scales, direction] of [
    [forward, 'forward'],
    [forward.length > 0 ? [] : backward, 'backward'],
  ] as const) {
    for (const scale of scales) {
      const name = child(scale, 'COMPU-CONST', 'VT');
      const coefficients = child(scale, 'COMPU-RATIONAL-COEFFS');
      if (name !== undefined) odd += named(scale, name.text, values);
      else if (coefficients !== undefined) {
        const line = lineOf(coefficients, direction);
        if (line === null) odd++;
        else if (!lines.some((l) => l.scale === line.scale && l.offset === line.offset)) lines.push(line);
      } else if (child(scale, 'COMPU-CONST') !== undefined) odd++;
    }
  }
  if (lines.length > 1)
    left.push(`conversion in ${lines.length} pieces (${category}): raw values are kept as they are`);
  else if (odd > 0)
    left.push(`${odd} scales of ${category} that are neither linear nor a name of single values`);
  const line = lines.length === 1 ? (lines[0] as { scale: number; offset: number }) : PLAIN;
  return {
    scale: line.scale,
    offset: line.offset,
    values: values.length > 0 ? Object.fromEntries(values) : undefined,
    left,
  };
}

/** 1 where the range cannot be written out, else 0. */
function named(scale: Element, text: string, values: [string, string][]): number {
  const from = numberOf(textAt(scale, 'LOWER-LIMIT'));
  const to = child(scale, 'UPPER-LIMIT') === undefined ? from : numberOf(textAt(scale, 'UPPER-LIMIT'));
  if (from === null || to === null || !Number.isSafeInteger(from) || !Number.isSafeInteger(to)) return 1;
  if (to < from || to - from >= MOST_RUN) return 1;
  for (let raw = from; raw <= to; raw++) values.push([String(raw), text]);
  return 0;
}

function lineOf(
  coefficients: Element,
  direction: 'forward' | 'backward',
): { scale: number; offset: number } | null {
  const row = (group: string) => list(coefficients, group, 'V').map((v) => numberOf(v.text));
  const numerator = row('COMPU-NUMERATOR');
  const denominator = row('COMPU-DENOMINATOR');
  if ([...numerator, ...denominator].some((n) => n === null)) return null;
  const [a = 0, b = 0, ...more] = numerator as number[];
  const [d = 1, ...powers] = denominator as number[];
  if ([...more, ...powers].some((n) => n !== 0) || d === 0) return null;
  const [scale, offset] = direction === 'forward' ? [b / d, a / d] : [d / b, -a / b];
  return Number.isFinite(scale) && Number.isFinite(offset) && scale !== 0 ? { scale, offset } : null;
}

/** A sign by the encoding of the base type; null where the bits are no whole number. */
export function signOf(base: Element | undefined): { signed: boolean | 'magnitude' } | null {
  if (base === undefined) return { signed: false };
  const encoding = textAt(base, 'BASE-TYPE-ENCODING').toUpperCase();
  if (encoding === '2C') return { signed: true };
  if (encoding === 'SM') return { signed: 'magnitude' };
  if (encoding === 'NONE' || encoding === 'BOOLEAN') return { signed: false };
  if (encoding === '') return { signed: /^[^/]*\bs(int|igned)/i.test(textAt(base, 'SHORT-NAME')) };
  return null;
}

/** Physical limits: PHYS-CONSTRS, or INTERNAL-CONSTRS through the conversion. */
export function limitsOf(
  constraint: Element | undefined,
  { scale, offset }: Conversion,
): { min?: number; max?: number } {
  for (const rule of list(constraint, 'DATA-CONSTR-RULES', 'DATA-CONSTR-RULE')) {
    const physical = child(rule, 'PHYS-CONSTRS');
    const inner = child(rule, 'INTERNAL-CONSTRS');
    const from = physical ?? inner;
    if (from === undefined) continue;
    const value = (name: string) => {
      const raw = numberOf(textAt(from, name));
      return raw === null ? undefined : physical === undefined ? raw * scale + offset : raw;
    };
    const [low, high] = [value('LOWER-LIMIT'), value('UPPER-LIMIT')];
    const swap = physical === undefined && scale < 0;
    const [min, max] = swap ? [high, low] : [low, high];
    return { ...(min !== undefined && { min }), ...(max !== undefined && { max }) };
  }
  return {};
}

/** Seconds of a file as the milliseconds that were meant: 0.02 gives 20. */
export function periodMsOf(seconds: number): number {
  return Number((seconds * 1000).toPrecision(14));
}

/** A finite number, also as 0x…; null else (INF, empty, words). */
export function numberOf(text: string): number | null {
  if (!/^([-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?|0x[0-9a-f]+)$/i.test(text)) return null;
  const value = Number(text);
  return Number.isFinite(value) ? value : null;
}
