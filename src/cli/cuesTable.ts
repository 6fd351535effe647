/** Cues as text: under each the signals that followed it, best first. */
import type { CueCandidate, CueFinding } from '../findings/cues/index.ts';
import { printFitted, printSentence } from './fitted.ts';
import { placeWords } from './places.ts';
import { counted, printLine } from './print.ts';

const SHOWN = 5;

export function cuesTable(cues: readonly CueFinding[]): void {
  for (const { name, repeats, candidates, open } of cues) {
    printLine(`${name}: ${counted(repeats, 'time')}`);
    if (open) printSentence('  ', open);
    if (candidates.length > 0) {
      printFitted(
        ['', 'bus id start:length', 'follows by', 'agrees', 'p', 'lag s'],
        candidates
          .slice(0, SHOWN)
          .map((c) => [
            String(c.rank),
            placeWords(c),
            c.by === 'value' ? 'value' : 'moving',
            c.agreement.toFixed(2),
            chance(c),
            c.lagS.toFixed(2),
          ]),
      );
      printSentence('  ', `First: ${candidates[0]?.evidence[0]?.text ?? ''}`);
    }
    printLine();
  }
  printLine(
    'p: how often shuffled cue sheets give any signal that follows as closely. A small p says that it\nfollows the cue, not what it means: another thing done at the same moments follows as well.',
  );
}

function chance({ pValue }: CueCandidate): string {
  return pValue < 0.01 ? pValue.toFixed(3) : pValue.toFixed(2);
}
