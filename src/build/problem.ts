/** Problems as sentences, and field paths as text. */
import type { Problem } from './model.ts';

export type FieldPath = readonly (string | number)[];

/** "guard.yaml:12:5: steering.slew: found …; expected …." — one line, in the form that editors and terminals link. */
export function problemSentence(problem: Problem): string {
  const place = problem.line > 0 ? `${problem.file}:${problem.line}:${problem.column}` : problem.file;
  const field = problem.field === '' ? '' : `${problem.field}: `;
  return `${place}: ${field}found ${problem.found}; expected ${problem.expected}.`;
}

/** ["messages", 3, "signals", 0, "start"] → "messages[3].signals[0].start". */
export function fieldText(path: FieldPath): string {
  let text = '';
  for (const part of path) {
    if (typeof part === 'number') text += `[${part}]`;
    else text += text === '' ? part : `.${part}`;
  }
  return text;
}

/** The reverse of `fieldText`, for names without dots and brackets, which all of ours are. */
export function fieldPath(text: string): (string | number)[] {
  return [...text.matchAll(/\[(\d+)\]|([^.[\]]+)/g)].map((m) =>
    m[1] === undefined ? (m[2] as string) : Number(m[1]),
  );
}

/** By file in the order given, then by line and column. */
export function sortProblems(problems: Problem[], fileOrder: readonly string[]): Problem[] {
  const rank = (file: string) => {
    const at = fileOrder.indexOf(file);
    return at < 0 ? fileOrder.length : at;
  };
  return [...problems].sort(
    (a, b) =>
      rank(a.file) - rank(b.file) ||
      (a.file < b.file ? -1 : a.file > b.file ? 1 : 0) ||
      a.line - b.line ||
      a.column - b.column,
  );
}
