/** Decides the columns of a text recording: those of our own CSV, those that the user named, or those inferred. */
import { CaptureError } from '../error.ts';
import { parseColumns, type TextLayout } from './columns.ts';
import { csvLayout } from './csv.ts';
import { inferLayout, layoutWords } from './infer.ts';
import { emptyLineFrame, LINE, lineParser } from './lines.ts';

export interface Settled {
  layout: TextLayout;
  /** One line for the user: what was decided and on what evidence. */
  guess: string;
  /** Whether a line before the first frame names the columns. */
  header: 'header' | 'none';
  /** 0–1 where the columns were inferred; null where a header of our own or the user names them. */
  confidence: number | null;
  /** Sample lines that give a frame, of how many. */
  fits: number;
  of: number;
}

/**
 * `lines` are the first lines of the recording; `columns` are the user's words, as `parseColumns` takes them.
 * @throws CaptureError where the lines are no frames, or not by those columns
 */
export function settleColumns(lines: readonly string[], columns: string | undefined): Settled {
  if (columns) return named(columns, lines);
  const header = lines[0] ?? '';
  const own = csvLayout(header);
  if (own) {
    const guess = `CSV with the header line ${header.trim()}`;
    return { layout: own, guess, header: 'header', confidence: null, ...fitsOf(lines.slice(1), own) };
  }
  const found = inferLayout(lines);
  if ('missing' in found) {
    throw new CaptureError(
      `The text is not a recording of frames: ${found.missing}. Right would be columns such as t,bus,id,ext,data; where they are there but were not seen, name the columns in their order (option columns).`,
    );
  }
  const confidence = `confidence ${found.confidence.toFixed(2)}; ${found.fits} of ${found.lines} sample lines fit`;
  return {
    layout: found.layout,
    guess: `${found.words} (${confidence})`,
    header: found.header,
    confidence: found.confidence,
    fits: found.fits,
    of: found.lines,
  };
}

function fitsOf(lines: readonly string[], layout: TextLayout): { fits: number; of: number } {
  const parse = lineParser(layout, emptyLineFrame(), { number: () => 0 });
  const bytes = lines.filter((line) => line.trim() !== '').map((line) => new TextEncoder().encode(line));
  return {
    fits: bytes.filter((line) => parse(line, 0, line.length) === LINE.frame).length,
    of: bytes.length,
  };
}

/** The user's columns with the separator with which most sample lines fit. */
function named(words: string, lines: readonly string[]): Settled {
  const columns = parseColumns(words);
  const extendedBy = columns.some((c) => c.kind === 'ext') ? 'column' : 'digits';
  const sample = lines.map((line) => new TextEncoder().encode(line));
  let best: TextLayout | null = null;
  let bestFits = 0;
  let bestFirst = 0;
  for (const separator of [',', ';', '\t', ' '] as const) {
    const layout: TextLayout = { separator, columns, extendedBy };
    const parse = lineParser(layout, emptyLineFrame(), { number: () => 0 });
    const codes = sample.map((line) => parse(line, 0, line.length));
    const fits = codes.filter((code) => code === LINE.frame).length;
    if (fits <= bestFits) continue;
    best = layout;
    bestFits = fits;
    bestFirst = codes.indexOf(LINE.frame);
  }
  if (best === null) {
    throw new CaptureError(
      `No line fits the columns "${words}"; line 1 is "${(lines[0] ?? '').slice(0, 80)}".`,
    );
  }
  return {
    layout: best,
    guess: `${layoutWords(best)} (columns as named; ${bestFits} of ${sample.length} sample lines fit)`,
    header: bestFirst > 0 ? 'header' : 'none',
    confidence: null,
    fits: bestFits,
    of: sample.length,
  };
}
