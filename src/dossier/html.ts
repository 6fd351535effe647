/** HTML from templates in which every value is escaped unless it is HTML itself. */

export class Html {
  readonly text: string;

  constructor(text: string) {
    this.text = text;
  }
}

type Value = Html | string | number | null | undefined | readonly Value[];

/** `html\`<p>${anything}</p>\``: strings are escaped, lists are joined, null and undefined are left out. */
export function html(parts: TemplateStringsArray, ...values: Value[]): Html {
  let text = parts[0] as string;
  values.forEach((value, i) => {
    text += valueText(value) + parts[i + 1];
  });
  return new Html(text);
}

/** Trusted markup, for drawings made in this house. */
export function raw(text: string): Html {
  return new Html(text);
}

export function escaped(text: string): string {
  return text
    .replace(/[\p{Cc}]/gu, (c) => (c === '\n' || c === '\t' ? c : '\ufffd'))
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

function valueText(value: Value): string {
  if (value === null || value === undefined) return '';
  if (value instanceof Html) return value.text;
  if (typeof value === 'object') return value.map(valueText).join('');
  return escaped(String(value));
}
