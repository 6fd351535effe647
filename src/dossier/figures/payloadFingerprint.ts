/** The payload strip in the size of a line of text: only the bars, to tell messages apart in a list. */
import { type BitLayout, barShare, columnOf } from './payloadBits.ts';
import { drawing, el, type FigureOptions, rounded, TONE } from './svg.ts';

export interface PayloadFingerprintData {
  name: string;
  /** Share of frames in which each bit differs from the frame before; index = 8 × byte + bit. */
  flipRate: ArrayLike<number>;
}

export interface PayloadFingerprintOptions extends FigureOptions {
  layout?: BitLayout;
}

const BYTES = 8;
const HEIGHT = 22;

/** Eight bytes a row; bytes that the message does not have stay empty, so that lengths compare at a glance. */
export function payloadFingerprint(
  data: PayloadFingerprintData,
  options: PayloadFingerprintOptions,
): SVGSVGElement {
  const { document, width = 220, layout = 'falling' } = options;
  const bits = data.flipRate.length;
  const rows = Math.max(1, Math.ceil(bits / 64));
  const moving = Array.from({ length: bits }, (_, bit) => data.flipRate[bit] ?? 0).filter(
    (rate) => rate > 0,
  ).length;
  const svg = drawing(
    document,
    { width, height: rows * HEIGHT },
    `${data.name}: ${moving} of ${bits} bits change`,
    'payload-fingerprint',
  );
  const pitch = (width - (BYTES - 1) * 2) / 64;
  for (let row = 0; row < rows; row++) {
    const base = (row + 1) * HEIGHT - 3;
    const columns = Math.min(64, bits - row * 64);
    for (let first = 0; first < columns; first += 8) {
      const x = first * pitch + (first / 8) * 2;
      svg.append(el(document, 'line', { x1: x, x2: x + 8 * pitch, y1: base, y2: base, stroke: TONE.rule }));
      svg.append(
        el(document, 'path', { d: byteBars(data.flipRate, row * 64 + first, layout, x, base, pitch) }),
      );
    }
  }
  return svg;
}

function byteBars(
  flipRate: ArrayLike<number>,
  first: number,
  layout: BitLayout,
  x: number,
  base: number,
  pitch: number,
): string {
  let path = '';
  for (let i = 0; i < 8; i++) {
    const rate = flipRate[columnOf(first + i, layout)] ?? 0;
    if (rate <= 0) continue;
    const height = Math.max(1, barShare(rate) * (HEIGHT - 5));
    path += `M${rounded(x + i * pitch)} ${base}v${rounded(-height)}h${rounded(pitch - 0.6)}v${rounded(height)}z`;
  }
  return path;
}
