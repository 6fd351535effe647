/** Signals that follow reference channels, as text. */
import type { Follower, Followers } from '../findings/scale/index.ts';
import { printFitted, printSentence } from './fitted.ts';
import { placeWords } from './places.ts';
import { printLine } from './print.ts';

export function scalesTable(all: readonly Followers[]): void {
  for (const { reference, followers } of all) {
    printLine(`${reference.name}${reference.unit ? `, ${reference.unit}` : ''}`);
    if (followers.length === 0) {
      printSentence(
        '  ',
        'Nothing follows it: it may not be on these buses, its clock may be off (`bywright align`), or little moved.',
      );
      printLine();
      continue;
    }
    printFitted(
      ['bus id start:length', 'a raw unit is', 'bounds', 'offset', 'lag s', 'r', 'p'],
      followers.map((f) => [
        placeWords(f.place),
        f.fit.relation === 'monotone' ? 'a curve' : f.fit.plainScale ? figure(f.fit.plainScale.value) : '–',
        `${figure(f.fit.scale.low)} to ${figure(f.fit.scale.high)}`,
        offsetWords(f),
        f.fit.lagS.value.toFixed(2),
        f.fit.pearson.toFixed(3),
        f.fit.probability.toFixed(2),
      ]),
    );
    printLine('The first:');
    for (const { text } of followers[0]?.fit.evidence ?? []) printSentence('  ', text);
    printLine();
  }
}

function offsetWords({ fit }: Follower): string {
  if (fit.relation === 'monotone') return '–';
  return fit.plainOffset !== null
    ? figure(fit.plainOffset)
    : `${figure(fit.offset.low)} to ${figure(fit.offset.high)}`;
}

function figure(v: number): string {
  return Number(v.toPrecision(4)).toString().replace('-', '−');
}
