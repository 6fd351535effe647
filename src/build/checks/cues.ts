/** Cue sheets of captures that are not there, and cues that end before they start. */
import { nearest } from '../nearest.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt } from './place.ts';

export const cuesCheck: Check = ({ captures }, sources) => {
  const problems = [];
  for (const [file, { data }] of sources.parsed) {
    if (!file.startsWith('cues/')) continue;
    const sheet = data as { capture: string; cues: { start_s: number; end_s: number }[] };
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
  }
  return problems;
};
