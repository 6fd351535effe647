/** XML as a small tree with line numbers, and text that XML can hold. Reads nothing but the text it is given: no entity is followed. */
import { SaxesParser } from 'saxes';

export interface Element {
  /** Without prefix. */
  name: string;
  /** By their whole names, as far as they were asked for. */
  attributes: Record<string, string>;
  /** Trimmed text of elements without children, else ''. */
  text: string;
  /** The same, untrimmed. */
  raw: string;
  children: Element[];
  line: number;
  /** "/Package/Name" where the element or one around it has a SHORT-NAME. */
  path: string;
}

export interface XmlProblem {
  line: number;
  column: number;
  found: string;
  expected: string;
}

/** Beyond these a file is refused, so that memory stays bounded. */
const MOST_ELEMENTS = 2_000_000;
const MOST_DEPTH = 100;
const NONE = {};

/** Never throws. `root` is null where the text is not one well-formed document within the limits. */
export function readXml(
  text: string,
  keep: 'GID attributes' | 'all attributes' = 'GID attributes',
): { root: Element | null; problems: XmlProblem[] } {
  const parser = new SaxesParser({ position: true });
  const top: Element = { name: '', attributes: {}, text: '', raw: '', children: [], line: 0, path: '' };
  const stack: Element[] = [top];
  const problems: XmlProblem[] = [];
  let count = 0;
  const stop = (found: string, expected: string) => {
    if (problems.length === 0)
      problems.push({ line: parser.line, column: Math.max(1, parser.column), found, expected });
  };
  parser.on('error', (error) => {
    const words = error.message.replace(/^[^:]*:?\d+:\d+: /, '').replace(/\.$/, '');
    stop(`broken XML: ${words}`, 'well-formed XML, without a document type or entities of its own');
  });
  parser.on('doctype', () => stop('a document type', 'XML without one: AUTOSAR files name a schema instead'));
  parser.on('opentag', ({ name, attributes }) => {
    if (problems.length > 0) return;
    count++;
    if (count > MOST_ELEMENTS)
      stop(`more than ${MOST_ELEMENTS} elements`, 'a smaller file, for example of one bus');
    if (stack.length > MOST_DEPTH) stop(`elements ${stack.length} deep`, `at most ${MOST_DEPTH}`);
    const parent = stack.at(-1) as Element;
    // Most attributes of large files are never asked for.
    const gid = attributes['GID'];
    const kept = keep === 'all attributes' ? { ...attributes } : gid === undefined ? NONE : { GID: gid };
    const element: Element = {
      name: name.slice(name.indexOf(':') + 1),
      attributes: kept as Record<string, string>,
      text: '',
      raw: '',
      children: [],
      line: parser.line,
      path: parent.path,
    };
    parent.children.push(element);
    stack.push(element);
  });
  const addText = (part: string) => {
    const element = stack.at(-1) as Element;
    if (problems.length === 0 && element.children.length === 0) element.raw += part;
  };
  parser.on('text', addText);
  parser.on('cdata', addText);
  parser.on('closetag', () => {
    if (problems.length > 0) return;
    const element = stack.pop() as Element;
    if (element.children.length > 0) element.raw = '';
    element.text = element.raw.trim();
    const parent = stack.at(-1);
    if (element.name === 'SHORT-NAME' && parent !== undefined) parent.path = `${parent.path}/${element.text}`;
  });
  for (let at = 0; at < text.length && problems.length === 0; at += 65_536)
    parser.write(text.slice(at, at + 65_536));
  if (problems.length === 0) parser.close();
  const root = top.children[0] ?? null;
  if (problems.length === 0 && root === null) stop('no element', 'an AUTOSAR document');
  return { root: problems.length === 0 ? root : null, problems };
}

export function child(element: Element | undefined, ...names: string[]): Element | undefined {
  let at = element;
  for (const name of names) at = at?.children.find((c) => c.name === name);
  return at;
}

/** Text of the element that the names lead to, '' where there is none. */
export function textAt(element: Element | undefined, ...names: string[]): string {
  return child(element, ...names)?.text ?? '';
}

/** Name for people where there is one, else the short name. */
export function nameOf(element: Element): string {
  return textAt(element, 'LONG-NAME', 'L-4') || textAt(element, 'SHORT-NAME');
}

/** All children of that name inside the group of that name. */
export function list(element: Element | undefined, group: string, name: string): Element[] {
  return child(element, group)?.children.filter((c) => c.name === name) ?? [];
}

/** Every element below, the element itself first. */
export function* everyElement(root: Element): Generator<Element> {
  const stack = [root];
  for (let element = stack.pop(); element !== undefined; element = stack.pop()) {
    yield element;
    for (let i = element.children.length - 1; i >= 0; i--) stack.push(element.children[i] as Element);
  }
}

/** An element to be written: a name, with attributes if need be, and text or elements. */
export type Written = [tag: string, content: string | number | readonly (Written | null)[]];

/** Indented text of an element; null entries are left out. */
export function xmlText([tag, content]: Written, indent = ''): string {
  const name = tag.split(' ')[0];
  if (!Array.isArray(content)) return `${indent}<${tag}>${escaped(String(content))}</${name}>\n`;
  const inner = (content as readonly (Written | null)[])
    .map((entry) => (entry === null ? '' : xmlText(entry, `${indent}  `)))
    .join('');
  return inner === '' ? `${indent}<${tag}/>\n` : `${indent}<${tag}>\n${inner}${indent}</${name}>\n`;
}

/** Text for content and attributes; characters that XML 1.0 (section 2.2) cannot hold become U+FFFD. */
export function escaped(text: string): string {
  return text
    .replace(/[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\u{10000}-\u{10ffff}]/gu, '\ufffd')
    .replace(/[&<>"\r\t\n]/g, (c) => ENTITIES[c] as string);
}

const ENTITIES: Record<string, string> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  '\r': '&#13;',
  '\t': '&#9;',
  '\n': '&#10;',
};
