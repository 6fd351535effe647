/** A program's fingerprint, by which proofs, C and records say which program they are about. */
import { createHash } from 'node:crypto';
import type { Program } from './form.ts';

/**
 * SHA-256 of the program in lower-case hex. Everything counts, names and notes included; the order of keys within
 * objects does not, nor do keys without a value.
 */
export function programHash(program: Program): string {
  return createHash('sha256').update(canonical(program)).digest('hex');
}

/** JSON with sorted keys, as in RFC 8785 for the values that occur here (integers, texts, truth values). */
export function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value);
  const entries = Object.entries(value)
    .filter(([, v]) => v !== undefined)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, v]) => `${JSON.stringify(key)}:${canonical(v)}`);
  return `{${entries.join(',')}}`;
}
