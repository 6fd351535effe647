/** Numbering of sheets and figures, and the pieces from which sheets are made. */
import { type Html, html, raw } from './html.ts';

/** Hands out figure numbers within sheets: "Fig. 4.2". */
export class Numbering {
  #sheet = 0;
  #figure = 0;

  sheet(): number {
    this.#figure = 0;
    return ++this.#sheet;
  }

  figure(): string {
    return `${this.#sheet}.${++this.#figure}`;
  }
}

export interface SheetParts {
  number: number;
  title: string;
  /** One or two sentences: what this sheet says. */
  lead: string;
  /** Beside the lead, in the margin. */
  notes?: Html[];
  body: Html;
  /** Goes on where the sheet before ended, instead of on a page of its own. */
  start?: 'flow';
}

export function sheet({ number, title, lead, notes = [], body, start }: SheetParts): Html {
  return html`<section id="sheet-${number}" class="${start ?? 'page'}">
<h2><span class="number">${number}</span> ${title}</h2>
<div class="opening"><p class="lead">${lead}</p>${notes.length > 0 ? html`<aside>${notes}</aside>` : null}</div>
${body}
</section>
`;
}

export function note(title: string, text: string | Html): Html {
  return html`<div class="note"><b>${title}</b> ${text}</div>`;
}

export function caution(text: string): Html {
  return html`<div class="caution" role="note"><b>Caution.</b> ${text}</div>`;
}

/** A drawing with its number and caption. */
export function figureBlock(number: string, svg: { outerHTML: string }, caption: string | Html): Html {
  return html`<figure>${raw(svg.outerHTML)}<figcaption><b>Fig. ${number}</b> ${caption}</figcaption></figure>
`;
}

export interface Column {
  title: string;
  /** Numbers are set to the right. */
  kind?: 'number' | 'wide';
  /** Share of the table's width in per cent; tables in which every column has one line up with each other. */
  share?: number;
}

/** `heading` stands above the column titles and, like them, again on every page that the table goes on to. */
export function table(
  columns: readonly Column[],
  rows: readonly (readonly (Html | string | number)[])[],
  heading?: Html,
): Html {
  const kinds = columns.map((c) => c.kind ?? 'plain');
  const above =
    heading === undefined
      ? null
      : html`<tr class="heading"><th colspan="${columns.length}" scope="colgroup">${heading}</th></tr>`;
  const shares = columns.every((c) => c.share !== undefined)
    ? html`<colgroup>${columns.map((c) => html`<col style="width:${c.share}%">`)}</colgroup>`
    : null;
  return html`<table class="${shares === null ? 'free' : 'aligned'}">${shares}<thead>${above}<tr>${columns.map(
    (c, i) => html`<th scope="col" class="${kinds[i]}">${c.title}</th>`,
  )}</tr></thead>
<tbody>${rows.map((row) => html`<tr>${row.map((cell, i) => html`<td class="${kinds[i]}">${cell}</td>`)}</tr>\n`)}</tbody></table>
`;
}

/** Names and values in two columns. */
export function facts(rows: readonly (readonly [string, Html | string])[]): Html {
  return html`<table class="facts"><tbody>${rows.map(
    ([name, value]) => html`<tr><th scope="row">${name}</th><td>${value}</td></tr>\n`,
  )}</tbody></table>
`;
}
