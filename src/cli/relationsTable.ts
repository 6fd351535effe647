/** Relations as text: what quantities they suggest, copies with their delays, then everything else that is tied. */
import type { Relation, Relations } from '../findings/relations/index.ts';
import { keyOf } from '../findings/relations/index.ts';
import { printFitted, printSentence } from './fitted.ts';
import { placeWords } from './places.ts';
import { printLine } from './print.ts';

const SHOWN = 30;

export function relationsTable({ relations, copies, names }: Relations): void {
  if (relations.length === 0) {
    printLine('No relation between signals: record while things move, up and down, several times.');
    return;
  }
  if (names.length > 0) printLine('What these may be');
  for (const text of new Set(names.map((n) => n.words))) {
    printSentence('  ', text);
    for (const { signals, probability } of names.filter((n) => n.words === text))
      printSentence('    ', `${signals.map(placeWords).join(', ')} (${probability.toFixed(2)})`);
  }
  const copyOf = relations.filter((r) => r.kind === 'copy');
  if (copies.length > 0) {
    printLine('\nOne quantity in several places');
    printFitted(
      ['bus id start:length', 'copy', 'factor', 'offset', 'later by ms', 'p'],
      copyOf.map((r) => [
        placeWords(r.from),
        placeWords(r.to),
        figure(r.factor),
        figure(r.offset),
        `${Math.round(1000 * r.delayLowS)} to ${Math.round(1000 * r.delayHighS)}`,
        r.probability.toFixed(2),
      ]),
    );
  }
  const others = relations.filter((r) => r.kind !== 'copy');
  const rest = [
    ...others.filter((r) => r.kind !== 'together'),
    ...others.filter((r) => r.kind === 'together'),
  ];
  if (rest.length > 0) {
    printLine('\nTied in other ways');
    printFitted(
      ['bus id start:length', 'and', 'gives', 'how', 'r', 'p'],
      rest
        .slice(0, SHOWN)
        .map((r) => [
          placeWords(r.from),
          r.with ? placeWords(r.with) : '',
          placeWords(r.to),
          how(r),
          r.r.toFixed(3),
          r.probability.toFixed(2),
        ]),
    );
    if (rest.length > SHOWN) printLine(`… and ${rest.length - SHOWN} more: --json has them all.`);
  }
  const nodes = new Set(relations.flatMap((r) => [keyOf(r.from), keyOf(r.to)]));
  printLine(
    `\n${nodes.size} signals in ${relations.length} relations. start:length as in --message,\nlittle-endian unless "big" stands behind. Ties are no proof of what a signal means: drive and look.`,
  );
}

function how({ kind, factor }: Relation): string {
  const words = {
    copy: 'copy',
    inverse: 'inverted copy',
    ratio: `fixed ratio ${figure(factor)}`,
    together: 'together',
    rate: 'rate of change',
    sum: 'sum or difference',
    product: 'product',
  };
  return words[kind];
}

function figure(v: number): string {
  return Number(v.toPrecision(4)).toString().replace('-', '−');
}
