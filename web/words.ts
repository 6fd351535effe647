/** Figures and findings put into words, the same on every sheet. */
import type { FindingsMessageReply } from '../src/server/api.ts';

export { figure } from '../src/dossier/figures/svg.ts';

import { figure } from '../src/dossier/figures/svg.ts';

type Check = NonNullable<FindingsMessageReply['check']>;
type Counter = NonNullable<FindingsMessageReply['counter']>;

export function count(value: number): string {
  return value.toLocaleString('en');
}

/** "1 frame", "2 frames". */
export function counted(value: number, one: string, many = `${one}s`): string {
  return `${count(value)} ${value === 1 ? one : many}`;
}

export function bytesWords(bytes: number): string {
  if (bytes < 1000) return counted(bytes, 'byte');
  const [size, unit] =
    bytes < 1e6 ? [bytes / 1e3, 'kB'] : bytes < 1e9 ? [bytes / 1e6, 'MB'] : [bytes / 1e9, 'GB'];
  return `${size.toFixed(1)} ${unit}`;
}

/** "48.2 s", "12 min 5 s". */
export function durationWords(seconds: number): string {
  if (seconds < 90) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)} min ${whole % 60} s`;
}

/** "2026-11-25 13:45 UTC" of an ISO time. */
export function timeWords(iso: string): string {
  return iso.replace(/^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}).*$/, '$1 $2 UTC');
}

export function milliseconds(ms: number | null): string {
  return ms === null ? '–' : ms < 100 ? ms.toFixed(2) : ms.toFixed(1);
}

export function probabilityWords(probability: number | null): string {
  return probability === null ? '–' : probability.toFixed(2);
}

export const TIMING = {
  periodic: 'periodic',
  onChange: 'on change',
  mixed: 'periodic, and on change',
  burst: 'in bursts',
  tooFew: 'too few frames to tell',
} as const;

/** Words from the server, which may stand in the middle of a line elsewhere, as a sentence of their own. */
export function sentence(words: string): string {
  const head = words.charAt(0).toUpperCase() + words.slice(1);
  return /[.!?…]$/.test(head) ? head : `${head}.`;
}

/** How a raw value becomes a physical one: "× 0.1 °", "× 0.05 − 200 °". */
export function scaleWords(scale: number, offset: number, unit: string): string {
  const shift = offset === 0 ? '' : offset < 0 ? ` − ${figure(-offset)}` : ` + ${figure(offset)}`;
  return `× ${figure(scale)}${shift}${unit ? ` ${unit}` : ''}`;
}

export function counterWords({ step, skip }: Pick<Counter, 'step' | 'skip'>): string {
  const steps = step < 0 ? `−${-step}` : `+${step}`;
  return skip.length > 0 ? `${steps}, skips ${skip.join(', ')}` : steps;
}

export type CheckWords = Pick<
  Check,
  | 'algorithm'
  | 'width'
  | 'poly'
  | 'init'
  | 'xorout'
  | 'reflected'
  | 'covers'
  | 'prefix'
  | 'suffix'
  | 'idBytes'
  | 'perCounter'
  | 'standard'
>;

const ALGORITHM = {
  xor: 'exclusive-or',
  sum: 'sum',
  sumComplement: 'complement of the sum',
  nibbleSum: 'sum of half bytes',
} as const;

export function checkWords(check: CheckWords): string {
  const { algorithm, width } = check;
  const parts = [algorithm === 'crc' ? `CRC-${width}, ${check.poly}` : ALGORITHM[algorithm]];
  if (check.standard) parts[0] = `${parts[0]} (${check.standard})`;
  if (Number(check.init) !== 0) parts.push(`from ${check.init}`);
  if (Number(check.xorout) !== 0) parts.push(`xor ${check.xorout}`);
  if (check.reflected) parts.push('low bit first');
  if (check.prefix) parts.push(`after ${check.prefix}`);
  if (check.suffix) parts.push(`before ${check.suffix}`);
  if (check.idBytes.length > 0) parts.push(`identifier byte ${check.idBytes.join(', ')} folded in`);
  if (check.perCounter) parts.push('a constant per counter value');
  parts.push(`over ${rangesWords(check.covers)}`);
  return parts.join(', ');
}

/** "bytes 0–6", "bytes 1–3, 5", in the order in which they enter. */
export function rangesWords(numbers: number[]): string {
  if (numbers.length === 0) return 'no byte';
  const runs: [number, number][] = [];
  for (const value of numbers) {
    const last = runs.at(-1);
    if (last && last[1] === value - 1) last[1] = value;
    else runs.push([value, value]);
  }
  const words = runs.map(([a, b]) => (a === b ? String(a) : `${a}–${b}`)).join(', ');
  return `${numbers.length === 1 ? 'byte' : 'bytes'} ${words}`;
}

/** Marks of fields: a … z, aa, ab, … */
export function keyOf(index: number): string {
  const letter = String.fromCharCode(97 + (index % 26));
  return index < 26 ? letter : keyOf(Math.floor(index / 26) - 1) + letter;
}
