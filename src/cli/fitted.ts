/** Text that fits a terminal of 100 columns: sentences in lines, and tables whose widest cells go on in the next line. */
import { printLine, printTable } from './print.ts';

export const COLUMNS = 100;
const GAP = 2;
/** No column is made narrower than this. */
const NARROWEST = 12;

/** A sentence in lines of at most `COLUMNS`; the first begins with `head`, the others are indented a little more. */
export function printSentence(head: string, text: string): void {
  const indent = ' '.repeat(head.length + 2);
  linesOf(head + text, COLUMNS, indent).forEach((line) => {
    printLine(line);
  });
}

/** A table as `printTable` prints it; where it is too wide, its widest columns are broken at spaces. */
export function printFitted(header: readonly string[], rows: readonly (readonly string[])[]): void {
  const widths = header.map((h, i) => Math.max(h.length, ...rows.map((r) => (r[i] ?? '').length)));
  const least = header.map((h) => Math.max(h.length, NARROWEST));
  const total = () => widths.reduce((sum, w) => sum + w + GAP, -GAP);
  while (total() > COLUMNS) {
    const room = widths.map((w, i) => (w > (least[i] as number) ? w : 0));
    const widest = room.indexOf(Math.max(...room));
    if ((room[widest] as number) === 0) break;
    widths[widest] = (widths[widest] as number) - 1;
  }
  printTable(
    header,
    rows.flatMap((row) => {
      const cells = row.map((cell, i) => linesOf(cell, widths[i] as number, ''));
      const height = Math.max(1, ...cells.map((lines) => lines.length));
      return Array.from({ length: height }, (_, k) => cells.map((lines) => lines[k] ?? ''));
    }),
  );
}

/** Lines of at most `width`, broken at spaces; a longer word stands alone. */
export function linesOf(text: string, width: number, indent: string): string[] {
  const lines: string[] = [];
  let line = '';
  for (const [k, word] of text.split(' ').entries()) {
    const longer = k === 0 ? word : `${line} ${word}`;
    if (k === 0 || longer.length <= width || line.trim() === '') line = longer;
    else {
      lines.push(line);
      line = indent + word;
    }
  }
  lines.push(line);
  return lines;
}
