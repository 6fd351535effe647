/** Turns a path inside a file into a problem with line and column. */
import type { Sources } from '../load.ts';
import type { Problem } from '../model.ts';
import { fieldPath } from '../problem.ts';
import { placeOf } from '../yamlFile.ts';

/** `field` is a path as engines give it: "routes[2].signals[0].from.signal"; names in snake_case as in the file. */
export function problemAt(
  sources: Sources,
  file: string,
  field: string,
  found: string,
  expected: string,
): Problem {
  const parsed = sources.parsed.get(file);
  const place = parsed === undefined ? { line: 0, column: 0 } : placeOf(parsed, fieldPath(field));
  return { file, ...place, field, found, expected };
}

/** Index of each entry whose key an earlier one has too. */
export function repeats<T>(items: readonly T[], key: (item: T) => string | number): number[] {
  const seen = new Set<string | number>();
  return items.flatMap((item, i) => {
    const k = key(item);
    if (seen.has(k)) return [i];
    seen.add(k);
    return [];
  });
}

/** "one of a, b, c", shortened where there are many. */
export function oneOf(what: string, names: readonly string[]): string {
  if (names.length === 0) return `${what} (there is none yet)`;
  const shown = names.slice(0, 8).join(', ');
  return `${what}: ${shown}${names.length > 8 ? `, … (${names.length} in all)` : ''}`;
}
