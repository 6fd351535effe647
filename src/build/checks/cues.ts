/** Cue sheets of captures that are not there, cues that end before they start, and cues of one name that lie over each other. */
import { cueOverlaps } from '../cueOverlaps.ts';
import type { Problem } from '../model.ts';
import { nearest } from '../nearest.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt } from './place.ts';

export const cuesCheck: Check = ({ captures }, sources) => {
  const problems: Problem[] = [];
  for (const [file, { data }] of sources.parsed) {
    if (!file.startsWith('cues/')) continue;
    const { capture, cues } = data as { capture: string; cues: Written[] };
    problems.push(
      ...sheetProblems(capture, cues, captures, (i, field, found, expected) =>
        problemAt(
          sources,
          file,
          i < 0 ? field : field === '' ? `cues[${i}]` : `cues[${i}].${field}`,
          found,
          expected,
        ),
      ),
    );
  }
  for (const [file, tables] of sources.cueTables) {
    for (const { sheet, place } of tables) {
      const cues = sheet.cues.map(({ name, startS, endS }) => ({ name, start_s: startS, end_s: endS }));
      problems.push(
        ...sheetProblems(sheet.capture, cues, captures, (i, field, found, expected) => ({
          file,
          ...place(i, field),
          field,
          found,
          expected,
        })),
      );
    }
  }
  return problems;
};

interface Written {
  name: string;
  start_s: number;
  end_s: number;
}

/** `at` places a problem at a field of cue i, or of the sheet where i is −1. */
function sheetProblems(
  capture: string,
  cues: readonly Written[],
  captures: readonly string[],
  at: (i: number, field: string, found: string, expected: string) => Problem,
): Problem[] {
  const problems: Problem[] = [];
  // Recordings are often kept out of version control: a folder without any is not an error in the sheet.
  if (captures.length > 0 && !captures.includes(capture)) {
    const near = nearest(capture, captures);
    const expected =
      near === null ? oneOf('a file in captures/', captures) : `"${near}", or another file in captures/`;
    problems.push(at(-1, 'capture', `"${capture}", which is not there`, expected));
  }
  for (const [i, cue] of cues.entries()) {
    if (cue.end_s < cue.start_s)
      problems.push(at(i, 'end_s', `${cue.end_s} s`, `at least start_s, ${cue.start_s} s`));
  }
  const spans = cues.map(({ name, start_s, end_s }) => ({ name, startS: start_s, endS: end_s }));
  for (const { earlier, later } of cueOverlaps(spans)) {
    const [a, b] = [cues[earlier] as Written, cues[later] as Written];
    problems.push({
      ...at(
        later,
        'start_s',
        `${b.start_s} s, while "${a.name}" of line ${at(earlier, '', '', '').line} lasts until ${a.end_s} s`,
        `cues of one name one after another: at least ${a.end_s}, or one cue for both, or another name`,
      ),
      weight: 'caution' as const,
    });
  }
  return problems;
}
