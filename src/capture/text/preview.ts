/** The first lines of a text recording beside what each is read as, so that a person can judge the columns. */
import { FLAG, formatId } from '../../can/frame.ts';
import { hexBytes } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { BusTable } from './buses.ts';
import { columnsText } from './columns.ts';
import { emptyLineFrame, LINE, LINE_WORDS, type LineFrame, lineParser } from './lines.ts';
import { type Settled, settleColumns } from './settle.ts';

export interface TextPreview {
  inferred: TextReading;
  /** By the columns that a person named; null where none were. */
  named: TextReading | null;
  lines: { line: number; text: string; inferred: LineReading | null; named: LineReading | null }[];
}

/** How the sample was read, or in one sentence why it was not. */
export type TextReading =
  | {
      /** In the words that `parseColumns` takes. */
      columns: string;
      separator: string;
      /** 0–1; null where the header or the person names the columns. */
      confidence: number | null;
      /** Sample lines that give a frame, of how many. */
      fits: number;
      of: number;
    }
  | { error: string };

/** One line as a frame, or what keeps it from being one. Time in seconds as written, data in hex. */
export type LineReading =
  | { time: string; bus: number; id: string; length: number; data: string; kind: string }
  | { none: string };

/** Longer lines are shown cut. */
const LONGEST_SHOWN = 160;

/** `lines` are the first lines of the recording, `show` of them come back; `columns` are a person's words or undefined. */
export function previewText(lines: readonly string[], columns: string | undefined, show = 6): TextPreview {
  const inferred = settled(lines, undefined);
  const named = columns ? settled(lines, columns) : null;
  const shown = lines
    .map((text, i) => ({ line: i + 1, text }))
    .filter(({ text }) => text.trim() !== '')
    .slice(0, show);
  const byGuess = readLines(
    shown.map(({ text }) => text),
    inferred,
  );
  const byName =
    named &&
    readLines(
      shown.map(({ text }) => text),
      named,
    );
  return {
    inferred: readingOf(inferred),
    named: named && readingOf(named),
    lines: shown.map(({ line, text }, i) => ({
      line,
      text: text.length > LONGEST_SHOWN ? `${text.slice(0, LONGEST_SHOWN)}…` : text,
      inferred: byGuess?.[i] ?? null,
      named: byName?.[i] ?? null,
    })),
  };
}

function settled(lines: readonly string[], columns: string | undefined): Settled | CaptureError {
  try {
    return settleColumns(lines, columns);
  } catch (error) {
    if (error instanceof CaptureError) return error;
    throw error;
  }
}

function readingOf(by: Settled | CaptureError): TextReading {
  if (by instanceof CaptureError) return { error: by.message };
  const { layout, confidence, fits, of } = by;
  const separator = { ',': 'commas', ';': 'semicolons', '\t': 'tabs', ' ': 'blanks' }[layout.separator];
  return { columns: columnsText(layout.columns), separator, confidence, fits, of };
}

function readLines(lines: readonly string[], by: Settled | CaptureError): LineReading[] | null {
  if (by instanceof CaptureError) return null;
  const frame = emptyLineFrame();
  const parse = lineParser(by.layout, frame, new BusTable(new Map()));
  return lines.map((line, i) => {
    const bytes = new TextEncoder().encode(line);
    const code = parse(bytes, 0, bytes.length);
    if (code === LINE.frame) return frameWords(frame);
    return {
      none: i === 0 && by.header === 'header' ? 'names the columns' : `no frame: ${LINE_WORDS[code]}`,
    };
  });
}

function frameWords(frame: LineFrame): LineReading {
  const nanos = Math.floor(frame.nanos);
  const decimals = nanos % 1000 === 0 ? 6 : 9;
  const { flags } = frame;
  const kinds = [
    flags & FLAG.error && 'error',
    flags & FLAG.remote && 'remote',
    flags & FLAG.fd && 'FD',
    flags & FLAG.bitRateSwitch && 'bit-rate switch',
    flags & FLAG.errorState && 'error state',
    flags & FLAG.sent && 'sent',
  ];
  return {
    time: `${frame.negative ? '-' : ''}${frame.seconds}.${String(nanos).padStart(9, '0').slice(0, decimals)}`,
    bus: frame.bus,
    id: formatId(frame.id, (flags & FLAG.extended) !== 0),
    length: frame.length,
    data: hexBytes(frame.data.subarray(0, frame.stored)),
    kind: kinds.filter(Boolean).join(', '),
  };
}
