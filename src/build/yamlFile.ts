/** One YAML text of a build: parsed with positions, its mistakes told with line, column and remedy. */
import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  parseDocument,
  visit,
} from 'yaml';
import { MAX_TEXT_BYTES } from './disk.ts';
import type { Problem } from './model.ts';
import { type FieldPath, fieldText } from './problem.ts';

export interface YamlFile {
  /** Path relative to the build folder. */
  file: string;
  text: string;
  document: Document.Parsed;
  /** Plain data; undefined where the text is no YAML. */
  data: unknown;
  lines: LineCounter;
}

/** Parses bytes of a file. `parsed.data` is undefined where the problems do not allow to look at fields. */
export function parseYaml(file: string, bytes: Uint8Array): { parsed: YamlFile | null; problems: Problem[] } {
  if (bytes.length > MAX_TEXT_BYTES) {
    const found = `${(bytes.length / 2 ** 20).toFixed(1)} MB`;
    return failed(file, found, 'a text file of at most 4 MB; recordings belong into captures/');
  }
  const text = decode(bytes);
  if (typeof text === 'number') {
    const { line, column } = placeOfByte(bytes, text);
    const found = `a byte that is not UTF-8 (0x${bytes[text]!.toString(16).padStart(2, '0')})`;
    const expected = 'text saved as UTF-8';
    return { parsed: null, problems: [{ file, line, column, field: '', found, expected }] };
  }
  const lines = new LineCounter();
  let document: Document.Parsed;
  try {
    document = parseDocument(text, { lineCounter: lines, prettyErrors: false, logLevel: 'error' });
  } catch {
    return failed(
      file,
      'lists or groups nested too deep to read',
      'a few levels, as in the documented forms',
    );
  }
  const parsed: YamlFile = { file, text, document, data: undefined, lines };
  // After a break in the syntax the parser takes what follows for something else: only the first break is told.
  const breaks = document.errors.filter((e) => e.code !== 'DUPLICATE_KEY');
  const told = [...document.errors, ...document.warnings].filter(
    (e) => !breaks.includes(e as never) || e === breaks[0],
  );
  const problems = told.map((e) => syntaxProblem(parsed, e.code, e.message, e.pos));
  if (breaks.length > 0) return { parsed, problems };
  try {
    parsed.data = document.toJS({ maxAliasCount: 100 });
  } catch (error) {
    const message = (error as Error).message;
    // The library speaks of an attack where aliases of aliases would fill the memory.
    const why = /excessive/i.test(message)
      ? 'aliases of aliases grow too large'
      : message.replace(/:.*$/, '').toLowerCase();
    const found = `an alias (*name) that cannot be followed: ${why}`;
    problems.push({ file, line: 0, column: 0, field: '', found, expected: 'the value written out in full' });
  }
  return { parsed, problems };
}

/** 1-based line and column of a field: of its value, or of its name with `at` "name". Of the nearest group where it is missing. */
export function placeOf(
  { document, lines }: YamlFile,
  path: FieldPath,
  at: 'value' | 'name' = 'value',
): { line: number; column: number } {
  let node: unknown = document.contents;
  let offset = (node as Node | null)?.range?.[0] ?? 0;
  for (const [depth, part] of path.entries()) {
    if (isAlias(node)) node = node.resolve(document);
    let next: unknown;
    let start: number | undefined;
    if (isMap(node)) {
      const pair = node.items.find((p) => String(isScalar(p.key) ? p.key.value : p.key) === String(part));
      if (pair === undefined) break;
      next = pair.value;
      const name = (pair.key as Node).range?.[0];
      const value = isScalar(next) && next.value === null ? undefined : (next as Node | null)?.range?.[0];
      start = depth === path.length - 1 && at === 'name' ? name : (value ?? name);
    } else if (isSeq(node) && typeof part === 'number') {
      next = node.items[part];
      start = (next as Node | undefined)?.range?.[0];
    }
    if (start === undefined) break;
    offset = start;
    node = next;
  }
  const place = lines.linePos(offset);
  return { line: place.line, column: place.col };
}

function decode(bytes: Uint8Array): string | number {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return firstBadByte(bytes);
  }
}

/** Offset of the first byte that starts no whole character, by halving. */
function firstBadByte(bytes: Uint8Array): number {
  let good = 0;
  let bad = bytes.length;
  while (good < bad) {
    const middle = (good + bad + 1) >> 1;
    if (decodes(bytes.subarray(0, middle), 'cut')) good = middle;
    else bad = middle - 1;
  }
  // A prefix may end inside a character that turns out bad: at most three bytes belong to it.
  while (good > 0 && !decodes(bytes.subarray(0, good), 'whole')) good--;
  return good;
}

function decodes(bytes: Uint8Array, end: 'cut' | 'whole'): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes, { stream: end === 'cut' });
    return true;
  } catch {
    return false;
  }
}

function placeOfByte(bytes: Uint8Array, at: number): { line: number; column: number } {
  let line = 1;
  let start = 0;
  for (let i = 0; i < at; i++) {
    if (bytes[i] === 10) {
      line++;
      start = i + 1;
    }
  }
  return { line, column: at - start + 1 };
}

function syntaxProblem(parsed: YamlFile, code: string, message: string, pos: readonly number[]): Problem {
  const offset = Math.min(pos[0] ?? 0, parsed.text.length);
  const place = parsed.lines.linePos(offset);
  const at = { file: parsed.file, line: place.line, column: place.col };
  if (code === 'DUPLICATE_KEY') {
    const path = pathOfKey(parsed.document, offset);
    return {
      ...at,
      field: fieldText(path),
      found: `"${path[path.length - 1] ?? ''}" a second time in the same group`,
      expected: 'each field once; remove one of the two',
    };
  }
  if (code === 'TAB_AS_INDENT')
    return { ...at, field: '', found: 'a tab at the start of the line', expected: 'spaces' };
  if (code === 'MULTIPLE_DOCS')
    return { ...at, field: '', found: 'a second document after "---"', expected: 'one document per file' };
  if (code === 'TAG_RESOLVE_FAILED')
    return { ...at, field: '', found: `a tag: ${message}`, expected: 'a plain value without "!"' };
  if (/call stack/i.test(message)) {
    const expected = 'a few levels, as in the documented forms';
    return { ...at, field: '', found: 'lists or groups nested too deep to read', expected };
  }
  const first = message.split('\n')[0]!.replace(/[.:]$/, '');
  const [found, expected] = SYNTAX_WORDS.find(([pattern]) => pattern.test(first))?.slice(1) ?? [
    `broken YAML: ${first}`,
    'YAML 1.2; look at this line and the one above',
  ];
  return { ...at, field: '', found: found as string, expected: expected as string };
}

/** The commonest slips of the keyboard, in words that say what to do; the library's own words serve a programmer. */
const SYNTAX_WORDS: [pattern: RegExp, found: string, expected: string][] = [
  [
    /implicit (map )?keys? need/i,
    'a line that is no "name: value"',
    'a name, a colon, a space and a value; look at this line and the one below',
  ],
  [
    /(same column|start at the same|without - indicator|bad indentation|less indented)/i,
    'a line that stands further left or right than its neighbours',
    'the fields of one group exactly below each other; look at this line and the one above',
  ],
  [
    /nested mappings are not allowed/i,
    'a second "name:" in one line, or a line that stands too far right',
    'text that holds a colon between quotes; the fields of one group exactly below each other',
  ],
  [
    /cannot start with/i,
    'a value that starts with a sign of YAML itself (% @ or `)',
    'the value between quotes',
  ],
  [
    /unexpected scalar at node end/i,
    'something behind the end of a value',
    'a comma or a new line there; text that holds quotes between quotes of the other kind',
  ],
  [
    /missing closing ["']quote/i,
    'a quoted text that does not end',
    'a closing quote; look upwards from here for the one that opens it',
  ],
  [
    /(expected flow|flow (map|sequence) in block|must end with a [\]}]|unexpected flow-)/i,
    'a list or group in brackets that does not end',
    'the closing ] or }, and a comma between entries',
  ],
];

function pathOfKey(document: Document.Parsed, offset: number): (string | number)[] {
  const path: (string | number)[] = [];
  visit(document, {
    Pair(_, pair, parents) {
      if ((pair.key as Node | null)?.range?.[0] !== offset) return undefined;
      const chain = [...parents, pair];
      for (const [i, node] of chain.entries()) {
        const inside = chain[i + 1];
        if (isSeq(node)) path.push(node.items.indexOf(inside as never));
        else if (inside !== undefined && isMap(node))
          path.push(String((inside as { key: { value?: unknown } }).key.value));
      }
      return visit.BREAK;
    },
  });
  return path;
}

function failed(file: string, found: string, expected: string): { parsed: null; problems: Problem[] } {
  return { parsed: null, problems: [{ file, line: 0, column: 0, field: '', found, expected }] };
}
