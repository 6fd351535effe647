/**
 * Edits of a YAML text that touch only what they change: comments, order, spacing and the spelling of numbers around it
 * stay byte for byte, so that a person's `git diff` shows the edit and nothing else.
 */
import { isDeepStrictEqual } from 'node:util';
import {
  Document,
  isMap,
  isNode,
  isScalar,
  isSeq,
  type Node,
  parseDocument,
  type Scalar,
  type ScalarTag,
  type Tags,
  visit,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml';
import type { FieldPath } from './problem.ts';

export type Edit =
  /** Sets the field at `path`, adding it at the end of its group where it is missing. */
  | { do: 'set'; path: FieldPath; value: unknown }
  /** Adds an entry at the end of the list at `path`, making the list where it is missing. */
  | { do: 'append'; path: FieldPath; value: unknown }
  /** The same for many entries at once. */
  | { do: 'appendAll'; path: FieldPath; values: readonly unknown[] }
  /** Takes away the field or list entry at `path`; a comment on a line of its own stays. */
  | { do: 'remove'; path: FieldPath };

/** Numbers that are to be written as 0x…, with at least this many digits, by the name of their field. */
const HEX_FIELDS: Record<string, number> = { id: 3, poly: 2, init: 2, xorout: 2 };

/** Applies edits in order. The text must be YAML without errors; throws `Error` where a path leads nowhere. */
export function editYaml(text: string, edits: readonly Edit[]): string {
  return edits.reduce(applied, text);
}

/** Block text of a value, each line indented by `indent` spaces except the first. */
export function blockText(value: unknown, indent: number): string {
  const document = new Document(value, { customTags: spelledNumbers });
  spellNew(document);
  const text = document.toString({ lineWidth: 0 }).replace(/\n$/, '');
  return text.replaceAll('\n', `\n${' '.repeat(indent)}`);
}

function applied(text: string, edit: Edit): string {
  const wanted = parsed(text);
  changeDocument(wanted, edit);
  const spliced = splice(text, edit);
  // The splice is right only if the whole text then means exactly what was wanted; otherwise rewrite through the library.
  if (spliced !== null && means(spliced, wanted.toJS())) return spliced;
  spellNew(wanted);
  const rewritten = wanted.toString({ lineWidth: 0, flowCollectionPadding: !/[{[][^\s\]}]/.test(text) });
  return text.includes('\r\n') ? rewritten.replace(/\r?\n/g, '\r\n') : rewritten;
}

function parsed(text: string): Document.Parsed {
  const document = parseDocument(text, { prettyErrors: false, customTags: spelledNumbers });
  if (document.errors.length > 0) throw new Error(`cannot edit: ${document.errors[0]?.message}`);
  return document;
}

function changeDocument(document: Document, edit: Edit): void {
  if (edit.do === 'remove') {
    if (!document.deleteIn(edit.path)) throw new Error(`there is no ${edit.path.join('.')} to remove`);
    return;
  }
  if (edit.do === 'set') {
    const old = document.getIn(edit.path, true);
    const node = document.createNode(edit.value);
    if (isNode(old)) {
      node.comment = old.comment;
      node.commentBefore = old.commentBefore;
    }
    document.setIn(edit.path, node);
    return;
  }
  const list = document.getIn(edit.path, true);
  const values = edit.do === 'append' ? [edit.value] : edit.values;
  if (isSeq(list)) for (const value of values) list.add(document.createNode(value));
  else document.setIn(edit.path, document.createNode(values));
}

function means(text: string, data: unknown): boolean {
  const document = parseDocument(text, { prettyErrors: false });
  return document.errors.length === 0 && isDeepStrictEqual(document.toJS(), data);
}

/** The text with the edit put in by hand, null where this way does not know how. */
function splice(text: string, edit: Edit): string | null {
  const document = parsed(text);
  const newline = text.includes('\r\n') ? '\r\n' : '\n';
  const put = (at: number, to: number, what: string) =>
    text.slice(0, at) + what.replace(/\r?\n/g, newline) + text.slice(to);
  const node = document.getIn(edit.path, true) as Node | undefined;
  if (edit.do === 'remove') {
    const range = removedRange(text, document, edit.path);
    return range === null ? null : put(range.from, range.to, '');
  }
  if (edit.do === 'set' && isScalar(node) && !(edit.value instanceof Object)) {
    const range = node.range;
    if (!range || range[0] === range[1] || text.slice(range[0], range[1]).includes('\n')) return null;
    return put(range[0], range[1], scalarText(edit.path, edit.value));
  }
  const entries = edit.do === 'set' ? [] : edit.do === 'append' ? [edit.value] : edit.values;
  if (edit.do !== 'set' && isSeq(node) && node.items.length > 0) {
    if (node.flow) return null;
    const indent = columnOf(text, node.range?.[0] ?? 0);
    const at = lineEnd(text, lastOffset(node));
    const lines = entries.map((entry) => `${' '.repeat(indent)}- ${blockText(entry, indent + 2)}\n`);
    return put(at, at, lead(text, at) + lines.join(''));
  }
  const value = edit.do === 'set' ? edit.value : entries;
  const name = edit.path[edit.path.length - 1];
  const group = document.getIn(edit.path.slice(0, -1), true) ?? document.contents;
  if (isMap(group) && group.flow && node === undefined && group.items.length > 0) {
    const at = endOf(group.items.at(-1)?.value);
    const inner = scalarText(edit.path, value);
    const plain = value instanceof Object || /[[\]{},#\n]/.test(inner) ? JSON.stringify(value) : inner;
    return at === null ? null : put(at, at, `, ${String(name)}: ${plain}`);
  }
  if (!isMap(group) || group.flow || group.items.length === 0) return null;
  const indent = columnOf(text, group.range?.[0] ?? 0);
  const field = `${' '.repeat(indent)}${blockText({ [String(name)]: value }, indent)}\n`;
  if (node === undefined) {
    const at = lineEnd(text, lastOffset(group));
    return put(at, at, lead(text, at) + field);
  }
  // `signals: []` or `signals:` on one line of its own becomes a block list.
  const pair = group.items.find((p) => isScalar(p.key) && p.key.value === name);
  const start = (pair?.key as Node | undefined)?.range?.[0];
  const end = node.range?.[1];
  if (start === undefined || end === undefined || text.slice(start, end).includes('\n')) return null;
  if (text.slice(end, lineEnd(text, end)).trim() !== '') return null;
  const at = lineEnd(text, end);
  return put(start, at, lead(text, at) + field.slice(indent));
}

/** What goes with a list entry in block form (its lines), or with a field in braces (it and the comma before it). */
function removedRange(
  text: string,
  document: Document,
  path: FieldPath,
): { from: number; to: number } | null {
  const group = document.getIn(path.slice(0, -1), true);
  const name = path.at(-1);
  if (isSeq(group) && !group.flow && group.items.length > 1 && typeof name === 'number') {
    const item = group.items[name] as Node | undefined;
    const start = item?.range?.[0];
    if (start === undefined) return null;
    const from = text.lastIndexOf('\n', start - 1) + 1;
    if (!/^\s*-\s+$/.test(text.slice(from, start))) return null;
    const last = isMap(item) || isSeq(item) ? lastOffset(item) : item?.range?.[1];
    return { from, to: lineEnd(text, last ?? start) };
  }
  if (isMap(group) && group.flow) {
    const at = group.items.findIndex((p) => isScalar(p.key) && p.key.value === name);
    const from = endOf(group.items[at - 1]?.value);
    const to = endOf(group.items[at]?.value);
    if (from === null || to === null || text.slice(from, to).includes('#')) return null;
    return { from, to };
  }
  return null;
}

/** Offset just behind a value; null where it has no place of its own. */
function endOf(node: unknown): number | null {
  const range = isNode(node) ? node.range : null;
  return range && range[1] > range[0] ? range[1] : null;
}

function scalarText(path: FieldPath, value: unknown): string {
  const name = path[path.length - 1];
  return blockText({ [String(name)]: value }, 0).slice(String(name).length + 2);
}

/** Offset just behind the last value inside a node. */
function lastOffset(node: YAMLMap | YAMLSeq): number {
  let last = 0;
  visit(node as never, {
    Node(_, inner) {
      if (isScalar(inner) || (isSeq(inner) && inner.flow) || (isMap(inner) && inner.flow))
        last = Math.max(last, (inner as Scalar).range?.[1] ?? 0);
      return undefined;
    },
  });
  return last;
}

/** Offset behind the line break of the line that holds the character before `offset`. */
function lineEnd(text: string, offset: number): number {
  if (offset > 0 && text[offset - 1] === '\n') return offset;
  const at = text.indexOf('\n', offset);
  return at < 0 ? text.length : at + 1;
}

/** A line break first, where the text before does not end in one. */
function lead(text: string, at: number): string {
  return at === 0 || text[at - 1] === '\n' ? '' : '\n';
}

function columnOf(text: string, offset: number): number {
  return offset - (text.lastIndexOf('\n', offset - 1) + 1);
}

/** How a person would write what is new: identifiers and polynomials in hexadecimal, lists of numbers on one line. */
function spellNew(document: Document): void {
  visit(document, {
    Pair(_, pair) {
      const digits = isScalar(pair.key) ? HEX_FIELDS[String(pair.key.value)] : undefined;
      const scalar = pair.value;
      if (digits === undefined || !isScalar(scalar) || scalar.source !== undefined) return;
      if (typeof scalar.value === 'number' && Number.isInteger(scalar.value) && scalar.value >= 0)
        scalar.source = `0x${scalar.value.toString(16).toUpperCase().padStart(digits, '0')}`;
    },
    Seq(_, list) {
      if (list.range === undefined && list.items.every((i) => isScalar(i) && typeof i.value === 'number'))
        list.flow = true;
    },
  });
}

/** Numbers keep the spelling they were read with: the library would turn 0x0DE into 0xde. */
function spelledNumbers(tags: Tags): Tags {
  return tags.map((tag) => {
    if (typeof tag === 'string' || !/:(int|float)$/.test(tag.tag)) return tag;
    const number = tag as ScalarTag;
    return {
      ...number,
      stringify: (scalar, ...rest) =>
        scalar.source ?? number.stringify?.(scalar, ...rest) ?? String(scalar.value),
    } satisfies ScalarTag;
  });
}
