/** Cue sheets of captures that are not there, cues that end before they start, and cues of one name that lie over each other. */
import { cueOverlaps } from '../cueOverlaps.ts';
import { nearest } from '../nearest.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt } from './place.ts';

export const cuesCheck: Check = ({ captures }, sources) => {
  const problems = [];
  for (const [file, { data }] of sources.parsed) {
    if (!file.startsWith('cues/')) continue;
    const sheet = data as { capture: string; cues: { name: string; start_s: number; end_s: number }[] };
    // Recordings are often kept out of version control: a folder without any is not an error in the sheet.
    if (captures.length > 0 && !captures.includes(sheet.capture)) {
      const near = nearest(sheet.capture, captures);
      const expected =
        near === null ? oneOf('a file in captures/', captures) : `"${near}", or another file in captures/`;
      problems.push(problemAt(sources, file, 'capture', `"${sheet.capture}", which is not there`, expected));
    }
    for (const [i, cue] of sheet.cues.entries()) {
      if (cue.end_s < cue.start_s)
        problems.push(
          problemAt(
            sources,
            file,
            `cues[${i}].end_s`,
            `${cue.end_s} s`,
            `at least start_s, ${cue.start_s} s`,
          ),
        );
    }
    const cues = sheet.cues.map(({ name, start_s, end_s }) => ({ name, startS: start_s, endS: end_s }));
    for (const { earlier, later } of cueOverlaps(cues)) {
      const [a, b] = [sheet.cues[earlier], sheet.cues[later]] as [
        (typeof sheet.cues)[0],
        (typeof sheet.cues)[0],
      ];
      problems.push({
        ...problemAt(
          sources,
          file,
          `cues[${later}].start_s`,
          `${b.start_s} s, while "${a.name}" of line ${problemAt(sources, file, `cues[${earlier}]`, '', '').line} lasts until ${a.end_s} s`,
          `cues of one name one after another: at least ${a.end_s}, or one cue for both, or another name`,
        ),
        weight: 'caution' as const,
      });
    }
  }
  return problems;
};
