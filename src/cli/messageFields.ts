/** One message of the findings in full: every field with its place, its probability and what speaks for it. */
import { formatId } from '../can/frame.ts';
import type { Evidence, FoundMessage } from '../findings/model.ts';
import { grouped, printLine, printTable } from './print.ts';

export function messageFields(m: FoundMessage): void {
  const period = m.periodMs === null ? 'no period' : `every ${m.periodMs.toFixed(1)} ms`;
  printLine(
    `bus ${m.bus}, message ${formatId(m.id, m.extended)}: ${m.length} bytes, ${grouped(m.frames)} frames, ${period}`,
  );
  printLine();
  const fields = fieldsOf(m).sort((a, b) => lowestBit(a) - lowestBit(b));
  printTable(
    ['start', 'length', 'byte order', 'kind', 'probability', 'evidence'],
    fields.map((f) => [
      String(f.start),
      String(f.length),
      f.byteOrder,
      f.kind,
      probabilityWords(f.probability),
      f.evidence[0]?.text ?? '',
    ]),
  );
  const more = fields.filter((f) => f.evidence.length > 1);
  if (more.length > 0) printLine('\nFurther evidence:');
  for (const f of more)
    for (const e of f.evidence.slice(1)) printLine(`  ${f.kind} at ${f.start}: ${e.text}`);
  if (m.open.length > 0) printLine('\nNot enough to tell:');
  for (const text of m.open) printLine(`  ${text}`);
  printLine(
    '\nstart: 8 × byte + bit, of the lowest bit where little-endian, of the highest where big-endian.',
  );
}

interface Field {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  kind: string;
  probability: number;
  evidence: Evidence[];
}

/** Signals, selector, counter and check field alike; a signal of one layout with the selector value that it is behind. */
function fieldsOf({ signals, selector, counter, check }: FoundMessage): Field[] {
  const fields: Field[] = signals.map((s) => {
    const kind = s.signed ? `${s.kind}, signed` : s.kind;
    return { ...s, kind: s.selectorValue === null ? kind : `${kind}, when ${s.selectorValue}` };
  });
  if (selector) fields.push({ ...selector, kind: 'selector' });
  if (counter) fields.push({ ...counter, kind: 'counter' });
  if (check) fields.push({ ...check, kind: 'check field' });
  return fields;
}

/** Reading order in the payload: by byte, whatever the byte order. */
function lowestBit({ start, byteOrder }: Field): number {
  return byteOrder === 'little' ? start : (start >> 3) * 8 + 7 - (start & 7);
}

/** Never "1.00" for what is not certain. */
function probabilityWords(p: number): string {
  return p > 0.99 && p < 1 ? '>0.99' : p.toFixed(2);
}
