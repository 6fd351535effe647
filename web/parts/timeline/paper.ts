/** A canvas as a piece of the sheet: its size on the screen, its dots, and the tones of the page around it. */

export interface Tones {
  ink: string;
  soft: string;
  rule: string;
  faint: string;
  accent: string;
  paper: string;
  font: string;
}

export interface Paper {
  context: CanvasRenderingContext2D;
  width: number;
  height: number;
  tones: Tones;
}

/** The canvas cleared, in units of screen pixels; null where there is nothing to draw on. */
export function paperOf(
  canvas: HTMLCanvasElement,
  tones: Tones,
  width: number,
  height: number,
): Paper | null {
  const context = canvas.getContext('2d');
  if (context === null || width < 1) return null;
  const dots = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(width * dots), Math.round(height * dots)];
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
    canvas.style.height = `${height}px`;
  }
  context.setTransform(dots, 0, 0, dots, 0, 0);
  context.clearRect(0, 0, width, height);
  context.font = tones.font;
  context.textBaseline = 'alphabetic';
  context.textAlign = 'left';
  context.lineWidth = 1;
  return { context, width, height, tones };
}

export function tonesOf(element: Element): Tones {
  const style = getComputedStyle(element);
  const tone = (name: string) => style.getPropertyValue(`--${name}`).trim() || '#000';
  return {
    ink: tone('ink'),
    soft: tone('soft'),
    rule: tone('rule'),
    faint: tone('faint'),
    accent: tone('accent'),
    paper: tone('paper'),
    font: `11px ${style.fontFamily}`,
  };
}

export function rule({ context }: Paper, x1: number, y1: number, x2: number, y2: number): void {
  context.beginPath();
  context.moveTo(Math.round(x1) + 0.5, Math.round(y1) + 0.5);
  context.lineTo(Math.round(x2) + 0.5, Math.round(y2) + 0.5);
  context.stroke();
}

/** Text on a piece of bare paper, so that what lies below does not run through it. */
export function label(
  { context, tones }: Paper,
  text: string,
  x: number,
  y: number,
  tone: string,
  align: 'left' | 'right' | 'center' = 'left',
): void {
  const width = context.measureText(text).width;
  const left = align === 'left' ? x : align === 'right' ? x - width : x - width / 2;
  context.fillStyle = tones.paper;
  context.fillRect(left - 2, y - 10, width + 4, 13);
  context.fillStyle = tone;
  context.fillText(text, left, y);
}

/** The text, shortened so that it is at most so wide; empty where not even a letter is. */
export function fitted({ context }: Paper, text: string, width: number): string {
  if (context.measureText(text).width <= width) return text;
  let n = text.length;
  while (n > 0 && context.measureText(`${text.slice(0, n)}…`).width > width) n--;
  return n === 0 ? '' : `${text.slice(0, n)}…`;
}

/** A measure between two points as on a drawing: a thin line with an arrow head at either end and its text in the middle. */
export function dimension(paper: Paper, x1: number, x2: number, y: number, text: string): void {
  const { context, tones } = paper;
  context.strokeStyle = tones.soft;
  rule(paper, x1, y, x2, y);
  rule(paper, x1, y - 5, x1, y + 5);
  rule(paper, x2, y - 5, x2, y + 5);
  context.fillStyle = tones.soft;
  if (x2 - x1 > 20)
    for (const [x, way] of [
      [x1, 1],
      [x2, -1],
    ] as const) {
      context.beginPath();
      context.moveTo(x, y + 0.5);
      context.lineTo(x + 7 * way, y - 2);
      context.lineTo(x + 7 * way, y + 3);
      context.fill();
    }
  const width = context.measureText(text).width;
  if (x2 - x1 > width + 30) label(paper, text, (x1 + x2) / 2, y + 4, tones.soft, 'center');
  else {
    const right = x2 + 6 + width < paper.width;
    label(paper, text, right ? x2 + 6 : x1 - 6, y + 4, tones.soft, right ? 'left' : 'right');
  }
}
