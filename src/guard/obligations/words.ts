/** How obligations put counts, times and names into words. */
import type { GuardFigures } from '../figures.ts';

/** "12.5 °", from counts. */
export function amount(counts: number, { perCount, unit }: { perCount: number; unit: string }): string {
  const value = Math.round(counts * perCount * 1e6) / 1e6;
  return unit === '°' ? `${value}°` : `${value} ${unit}`;
}

/** "83 steps (at most 996 ms)". */
export function duration(steps: number, f: GuardFigures): string {
  return `${steps} step${steps === 1 ? '' : 's'} (at most ${steps * f.spacingMaxMs} ms)`;
}

/** A name as part of the name of an obligation: "driver: brake pedal" is "driver-brake-pedal". */
export function slug(name: string): string {
  return name
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, '-')
    .replace(/^-|-$/g, '');
}
