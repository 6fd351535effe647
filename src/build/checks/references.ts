/** Reference channels of captures that are not there, without data or with both kinds of it, and readings in no order. */
import { nearest } from '../nearest.ts';
import type { Check } from './index.ts';
import { oneOf, problemAt, repeats } from './place.ts';

export const referencesCheck: Check = ({ captures, references }, sources) => {
  const twice = new Set(repeats(references, ({ file }) => `${file.capture}\0${file.name}`));
  return references.flatMap(({ path, file }, i) => {
    const at = (field: string, found: string, expected: string) =>
      problemAt(sources, path, field, found, expected);
    const problems = [];
    // Recordings are often kept out of version control: a folder without any is not an error in the file.
    if (captures.length > 0 && !captures.includes(file.capture)) {
      const near = nearest(file.capture, captures);
      const expected =
        near === null ? oneOf('a file in captures/', captures) : `"${near}", or another file in captures/`;
      problems.push(at('capture', `"${file.capture}", which is not there`, expected));
    }
    if (twice.has(i))
      problems.push(at('name', `a second channel "${file.name}" of ${file.capture}`, 'another name'));
    if (file.file !== undefined && file.points !== undefined)
      problems.push(at('points', 'points beside a file', 'either "file" or "points"'));
    if (file.file === undefined && (file.points === undefined || file.points.length === 0))
      problems.push(
        at(
          file.points === undefined ? 'name' : 'points',
          'a channel without data',
          '"file" (CSV or GPX in reference/) or "points" ([time_s, value] each)',
        ),
      );
    for (const [k, [t = 0]] of (file.points ?? []).entries()) {
      const before = file.points?.[k - 1]?.[0];
      if (before === undefined || t > before) continue;
      const found = t === before ? `the time ${t} s a second time` : `${t} s after ${before} s`;
      problems.push(at(`points[${k}]`, found, `times that rise: more than ${before} s`));
    }
    return problems;
  });
};
