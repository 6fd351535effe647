/** Two recordings held against each other, as text: what chance does not explain, then what it may. */
import { formatId } from '../can/frame.ts';
import type { Comparison, Difference } from '../findings/compare/index.ts';
import { counted, printLine } from './print.ts';

const UNSURE = 30;
const WIDTH = 100;

export function comparisonTable({ a, b, same, tests, differences }: Comparison): void {
  const size = (name: string, s: Comparison['a']) =>
    `${name}: ${counted(s.frames, 'frame')} in ${s.seconds.toFixed(1)} s, ${counted(s.messages, 'message')}`;
  printLine(size('A', a));
  printLine(size('B', b));
  printLine(`${counted(same, 'message')} in both without a difference beyond chance`);
  const sure = differences.filter((d) => d.sure);
  const unsure = differences.filter((d) => !d.sure && d.kind !== 'range');
  const ranges = differences.filter((d) => !d.sure && d.kind === 'range').length;
  if (sure.length > 0) printLine('\nMore than chance (a difference in what was done shows here as well)');
  for (const d of sure) printDifference(d);
  if (unsure.length > 0) printLine('\nNot enough to tell, or a state');
  for (const d of unsure.slice(0, UNSURE)) printDifference(d);
  if (unsure.length > UNSURE) printLine(`  … and ${unsure.length - UNSURE} more: --json has them all.`);
  if (ranges > 0)
    printLine(`  ${counted(ranges, 'range')} of values differ, as between any two drives (--json).`);
  printLine(
    `\nBeyond chance: unchanged traffic would show it less than once in ${counted(20 * Math.max(1, tests), 'time')} (${counted(tests, 'comparison')}).`,
  );
}

function printDifference({ bus, id, extended, kind, text }: Difference): void {
  const head = `  ${bus} ${formatId(id, extended).padEnd(8)}  ${kind.padEnd(9)}  `;
  let line = head;
  for (const word of text.split(' ')) {
    if (line.length + word.length > WIDTH && line.trim() !== '') {
      printLine(line.trimEnd());
      line = ' '.repeat(head.length);
    }
    line += `${word} `;
  }
  printLine(line.trimEnd());
}
