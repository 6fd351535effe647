/** Holds a parsed file against its schema: every field that does not fit becomes one problem with place and remedy. */
import type { z } from 'zod';
import { expectation, nodeAt, type SchemaNode, schemaNode } from './expected.ts';
import type { Problem } from './model.ts';
import { nearest } from './nearest.ts';
import { type FieldPath, fieldText } from './problem.ts';
import { numberMeant, renamedFactor, rounded, unitOf } from './units.ts';
import { placeOf, type YamlFile } from './yamlFile.ts';

/** `form` is what the file's `form` field must say, for example "guard/1". */
export function checkFields<S extends z.ZodType>(
  parsed: YamlFile,
  schema: S,
  form: string,
): { value: z.output<S> | null; problems: Problem[] } {
  const wrongForm = formProblem(parsed, form);
  if (wrongForm !== null) return { value: null, problems: [wrongForm] };
  const result = schema.safeParse(parsed.data);
  if (result.success) return { value: result.data, problems: [] };
  const context = { parsed, root: schemaNode(schema) };
  const renamed = new Set<string>();
  const unknown = result.error.issues.flatMap((issue) =>
    issue.code === 'unrecognized_keys'
      ? issue.keys.map((key) => unknownField(context, [...segments(issue.path), key], renamed))
      : [],
  );
  const rest = result.error.issues.flatMap((issue) => issueProblems(context, issue, renamed));
  return { value: null, problems: [...unknown, ...rest] };
}

interface Context {
  parsed: YamlFile;
  root: SchemaNode;
}

/** Empty files and files of another kind or version get one sentence instead of one per field. */
function formProblem(parsed: YamlFile, form: string): Problem | null {
  const { data, file } = parsed;
  const whole = { file, line: 0, column: 0, field: '' };
  if (data === null || data === undefined)
    return { ...whole, found: 'an empty file', expected: `"form: ${form}" and the fields of that form` };
  if (typeof data !== 'object' || Array.isArray(data)) {
    const expected = `fields at the left margin, the first "form: ${form}"`;
    return { ...whole, line: 1, column: 1, found: foundWords(data), expected };
  }
  const written = (data as Record<string, unknown>)['form'];
  if (written === form) return null;
  const at = { file, ...placeOf(parsed, ['form']), field: 'form' };
  if (written === undefined)
    return { ...at, line: 1, column: 1, found: 'no form', expected: `"form: ${form}"` };
  const [kind, version] = form.split('/') as [string, string];
  const parts = typeof written === 'string' ? /^([a-z]+)\/(\d+)$/.exec(written) : null;
  if (parts !== null && parts[1] === kind && Number(parts[2]) > Number(version)) {
    const expected = `"${form}", the newest this version reads; install a newer Bywright to open it`;
    return { ...at, found: `"${written}", a form from a newer version`, expected };
  }
  return { ...at, found: foundWords(written), expected: `"${form}"` };
}

function issueProblems(context: Context, issue: z.core.$ZodIssue, renamed: Set<string>): Problem[] {
  const path = segments(issue.path);
  if (issue.code === 'unrecognized_keys') return [];
  if (issue.code === 'invalid_key') {
    const found = `"${path[path.length - 1]}"`;
    const expected = issue.issues[0]?.message.startsWith('Invalid')
      ? 'a whole number as the name of each line'
      : (issue.issues[0]?.message ?? 'another name');
    return [problem(context, path, found, expected, 'name')];
  }
  const value = valueAt(context.parsed.data, path);
  const field = lastName(path);
  if (value === undefined && renamed.has(fieldText(path))) return [];
  const node = nodeAt(context.root, path);
  let expected = node === null ? issue.message : expectation(node, field);
  if (issue.code === 'invalid_format' && !issue.message.startsWith('Invalid')) expected = issue.message;
  if (issue.code === 'custom') expected = issue.message;
  if (value === undefined) {
    const group = context.parsed.data === null ? [] : path.slice(0, -1);
    const place = placeOf(context.parsed, group, 'name');
    const found = `no field "${field}"`;
    return [{ file: context.parsed.file, ...place, field: fieldText(path), found, expected }];
  }
  return [problem(context, path, foundWords(value), advice(node, field, value) ?? expected, 'value')];
}

/** The most helpful thing to say about text where a number or true/false is due; null where there is nothing better. */
function advice(node: SchemaNode | null, field: string, value: unknown): string | null {
  if (typeof value !== 'string' || node === null) return null;
  const options = node.anyOf ?? [node];
  const types = options.map((n) => n.type);
  if (types.includes('boolean') && /^(yes|on|no|off)$/i.test(value))
    return /^(yes|on)$/i.test(value) ? 'true' : 'false';
  if (!types.includes('number') && !types.includes('integer')) return null;
  if (field === 'id' && /^[0-9a-f]{3}([0-9a-f]{5})?$/i.test(value))
    return `a whole number; in hexadecimal 0x${value.toUpperCase()}`;
  const meant = numberMeant(field, value);
  if (meant === null || !options.some((option) => holds(option, meant))) return null;
  const unit = unitOf(field);
  return `the number alone${unit === null ? '' : `, in ${unit}`}: ${meant}`;
}

/** Whether the number lies in the range of the node. */
function holds(node: SchemaNode, value: number): boolean {
  const { minimum, maximum, exclusiveMinimum, exclusiveMaximum } = node;
  return (
    (minimum === undefined || value >= minimum) &&
    (maximum === undefined || value <= maximum) &&
    (exclusiveMinimum === undefined || value > exclusiveMinimum) &&
    (exclusiveMaximum === undefined || value < exclusiveMaximum)
  );
}

/** An unknown field, with the known name that was probably meant; that name then counts as present. */
function unknownField(context: Context, path: (string | number)[], renamed: Set<string>): Problem {
  const written = lastName(path);
  const group = path.slice(0, -1);
  const node = nodeAt(context.root, group);
  const here = valueAt(context.parsed.data, group) as Record<string, unknown>;
  const options = node?.anyOf ?? (node === null ? [] : [node]);
  const known = options.flatMap((option) => Object.keys(option.properties ?? {}));
  const free = known.filter((name) => !(name in here));
  const found = `an unknown field "${written}"`;
  const sameStem = free.find((name) => renamedFactor(written, name) !== null);
  if (sameStem !== undefined) {
    renamed.add(fieldText([...group, sameStem]));
    const value = here[written];
    const converted =
      typeof value === 'number' ? `: ${rounded(value * (renamedFactor(written, sameStem) as number))}` : '';
    return problem(context, path, found, `"${sameStem}", in ${unitOf(sameStem)}${converted}`, 'name');
  }
  const near = nearest(written, free);
  if (near !== null) {
    renamed.add(fieldText([...group, near]));
    return problem(context, path, found, `"${near}", or no such field`, 'name');
  }
  const rest = free.length === 0 ? 'no more fields here' : `one of ${free.join(', ')}`;
  return problem(context, path, found, rest, 'name');
}

function problem(
  { parsed }: Context,
  path: FieldPath,
  found: string,
  expected: string,
  at: 'name' | 'value',
): Problem {
  return { file: parsed.file, ...placeOf(parsed, path, at), field: fieldText(path), found, expected };
}

/** What stands there, in words short enough for one line. */
export function foundWords(value: unknown): string {
  if (value === null || value === undefined) return 'nothing';
  if (typeof value === 'string') return JSON.stringify(value.length > 60 ? `${value.slice(0, 57)}…` : value);
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : `a list of ${value.length}`;
  if (typeof value === 'object') return 'a group of fields';
  return String(value);
}

function valueAt(data: unknown, path: FieldPath): unknown {
  let value = data;
  for (const part of path) {
    if (value === null || typeof value !== 'object') return undefined;
    value = (value as Record<string | number, unknown>)[part];
  }
  return value;
}

function lastName(path: FieldPath): string {
  for (let i = path.length - 1; i >= 0; i--) if (typeof path[i] === 'string') return path[i] as string;
  return '';
}

function segments(path: readonly PropertyKey[]): (string | number)[] {
  return path.map((part) => (typeof part === 'number' ? part : String(part)));
}
