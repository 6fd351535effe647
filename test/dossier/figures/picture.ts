/** Compares a figure with its kept picture: one tag a line, attributes sorted, so that a change can be read as well as looked at. */
import { expect } from 'vitest';

export async function expectPicture(figure: Element, name: string): Promise<void> {
  await expect(pictureOf(figure)).toMatchFileSnapshot(`pictures/${name}.snap.svg`);
}

/** Attribute values and texts of all elements of a kind, for tests that look at one thing in a drawing. */
export function textsOf(figure: Element): string[] {
  return [...figure.querySelectorAll('text')].map((text) => (text.textContent ?? '').trim()).filter(Boolean);
}

function pictureOf(figure: Element): string {
  if (!figure.getAttribute('xmlns')) figure.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
  const lines: string[] = [];
  print(figure, '', lines);
  return `${lines.join('\n')}\n`;
}

function print(element: Element, indent: string, lines: string[]): void {
  const attributes = [...element.attributes]
    .map(({ name, value }) => ` ${name}="${escaped(value)}"`)
    .sort()
    .join('');
  const children = [...element.childNodes];
  const name = element.localName;
  if (children.length === 0) lines.push(`${indent}<${name}${attributes}/>`);
  else if (children.some((child) => child.nodeType === 3)) {
    lines.push(`${indent}<${name}${attributes}>${children.map(inline).join('')}</${name}>`);
  } else {
    lines.push(`${indent}<${name}${attributes}>`);
    for (const child of children) print(child as Element, `${indent}  `, lines);
    lines.push(`${indent}</${name}>`);
  }
}

function inline(node: ChildNode): string {
  if (node.nodeType === 3) return escaped(node.textContent ?? '');
  const lines: string[] = [];
  print(node as unknown as Element, '', lines);
  return lines.join('');
}

function escaped(text: string): string {
  return text.replace(/&/g, '&amp;').replace(/</g, '&lt;').replace(/"/g, '&quot;');
}
