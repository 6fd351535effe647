/**
 * The start value of a CRC from messages of different lengths. A start value reaches the result through as many steps of
 * the register as there are bits in what is covered; the final constant does so directly. Both are unknown and enter
 * linearly over GF(2), so that two messages of different lengths give `width` equations for the start value.
 */
import { crc } from '../can/crc.ts';
import type { ConstantCase } from './checkConstant.ts';
import { constantOf } from './checkConstant.ts';
import { RowSpace } from './gf2.ts';

/** Pairs of messages that are asked; one of them may be wrong about its constant. */
const PAIRS = 6;

/** Start values that explain the constants of two of the messages; those that several pairs agree on come once. */
export function startValues(cases: readonly ConstantCase[], idBytes: number[]): number[] {
  const found = new Set<number>([0]);
  let pairs = 0;
  for (let a = 0; a < cases.length && pairs < PAIRS; a++) {
    for (let b = a + 1; b < cases.length && pairs < PAIRS; b++) {
      const [one, other] = [cases[a] as ConstantCase, cases[b] as ConstantCase];
      if (bytesOf(one) === bytesOf(other)) continue;
      pairs++;
      const init = solved(one, other, idBytes);
      if (init !== null) found.add(init);
    }
  }
  return [...found];
}

function bytesOf({ open: { field } }: ConstantCase): number {
  return field.covers.length + field.suffix.length;
}

/** The only start value with which both messages have the same final constant; null where there is none or more. */
function solved(one: ConstantCase, other: ConstantCase, idBytes: number[]): number | null {
  const { field } = one.open;
  const { width, poly, reflected } = field;
  const [short, long] = [bytesOf(one) + idBytes.length, bytesOf(other) + idBytes.length];
  // What bit k of the start value adds to the results of both lengths.
  const parts = Array.from({ length: width }, (_, k) => {
    const p = { width, poly, reflected, init: (1 << k) >>> 0, xorout: 0 };
    return (crc(p, new Uint8Array(short)) ^ crc(p, new Uint8Array(long))) >>> 0;
  });
  const values = { init: 0, xorout: 0, idBytes };
  const wanted = (constantOf(one, values) ^ constantOf(other, values)) >>> 0;
  // Columns 0 … 31 the result, 32 … 63 the bits of the start value that make it.
  const space = new RowSpace(64);
  for (const [k, part] of parts.entries()) space.insert(Int32Array.of(part, (1 << k) | 0));
  const rows = space.rows();
  if (rows.some((row) => row[0] === 0)) return null;
  const target = Int32Array.of(wanted, 0);
  space.reduce(target);
  return target[0] === 0 ? (target[1] as number) >>> 0 : null;
}
