/** What the figures share: the document they are drawn in, the tones of the manual, and small SVG makers. */

export interface FigureOptions {
  /** The browser's document, or one of linkedom in Node. */
  document: Document;
  /** Width of the drawing in its own units, about one screen pixel each; the picture then scales with the page. */
  width?: number;
}

export const DEFAULT_WIDTH = 760;

/**
 * Tones are variables of the page around the figure, so that one drawing serves light, dark and print;
 * without such variables it comes out black on white.
 */
export const TONE = {
  ink: 'var(--ink, #000)',
  soft: 'var(--soft, #444)',
  rule: 'var(--rule, #bbb)',
  faint: 'var(--faint, #e8e8e8)',
  accent: 'var(--accent, #000)',
  paper: 'var(--paper, #fff)',
} as const;

export const TEXT_SIZE = 11;
const SVG_NS = 'http://www.w3.org/2000/svg';

export type Attributes = Record<string, string | number | undefined>;

/** An SVG element with attributes (numbers rounded to hundredths) and children; strings become text. */
export function el(
  document: Document,
  name: string,
  attributes: Attributes = {},
  ...children: (SVGElement | string)[]
): SVGElement {
  const element = document.createElementNS(SVG_NS, name) as SVGElement;
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== undefined) element.setAttribute(key, typeof value === 'number' ? rounded(value) : value);
  }
  element.append(...children);
  return element;
}

/** The outermost element of a drawing by hand, with its accessible name. */
export function drawing(
  document: Document,
  size: { width: number; height: number },
  name: string,
  kind: string,
): SVGSVGElement {
  return el(document, 'svg', {
    class: `figure-${kind}`,
    viewBox: `0 0 ${rounded(size.width)} ${rounded(size.height)}`,
    width: size.width,
    height: size.height,
    role: 'img',
    'aria-label': name,
    'font-size': TEXT_SIZE,
    'font-family': 'inherit',
    fill: TONE.ink,
  }) as SVGSVGElement;
}

/**
 * Gives a plot the accessible name and the text style of the drawings by hand. Its own style sheet goes: pages may forbid
 * style in the document, and the page around the figure says how it scales.
 */
export function asFigure(plot: Element, name: string, kind: string): SVGSVGElement {
  plot.querySelector('style')?.remove();
  plot.setAttribute('class', `${plot.getAttribute('class') ?? ''} figure-${kind}`.trim());
  plot.setAttribute('role', 'img');
  plot.setAttribute('aria-label', name);
  plot.setAttribute('font-size', String(TEXT_SIZE));
  plot.setAttribute('font-family', 'inherit');
  plot.setAttribute('fill', TONE.ink);
  return plot as SVGSVGElement;
}

/** One sample of a line with its meaning, for the key above a plot. */
export interface KeyEntry {
  text: string;
  stroke: string;
  width?: number;
  dash?: string;
  /** A ring on the sample: the line has points that a person set. */
  point?: 'ring';
}

/** The key above a plot: samples of line beside their words, left to right. */
export function lineKey(document: Document, entries: KeyEntry[], x: number, y: number): SVGElement {
  const group = el(document, 'g', { 'text-anchor': 'start' });
  let at = x;
  for (const entry of entries) {
    group.append(
      el(document, 'line', {
        x1: at,
        x2: at + 26,
        y1: y,
        y2: y,
        stroke: entry.stroke,
        'stroke-width': entry.width ?? 1.5,
        'stroke-dasharray': entry.dash,
      }),
      el(document, 'text', { x: at + 32, y: y + 4 }, entry.text),
    );
    if (entry.point === 'ring') {
      group.append(
        el(document, 'circle', {
          cx: at + 13,
          cy: y,
          r: 3,
          fill: TONE.paper,
          stroke: entry.stroke,
          'stroke-width': 1.5,
        }),
      );
    }
    at += 32 + textWidth(entry.text) + 22;
  }
  return group;
}

/** Width of a text at `TEXT_SIZE`, estimated: there is no layout to ask outside a browser. */
export function textWidth(text: string, size = TEXT_SIZE): number {
  return text.length * size * 0.54;
}

/** A number as the figures print it: at most four significant digits, a true minus sign. */
export function figure(value: number): string {
  if (!Number.isFinite(value)) return '–';
  const digits = Math.abs(value) >= 1000 ? Math.round(value) : Number(value.toPrecision(4));
  return digits.toLocaleString('en', { maximumFractionDigits: 6 }).replace('-', '−');
}

export function tenth(value: number): number {
  return Math.round(value * 10) / 10;
}

/** A coordinate as text, to a hundredth. */
export function rounded(value: number): string {
  return String(Math.round(value * 100) / 100);
}
