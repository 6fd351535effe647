/** Text of one frame a line, whose columns are inferred or named; written as CSV with the columns t,bus,id,ext,data. */
import { hexBytes, joined } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import type { CaptureBuilder } from '../store.ts';
import { BusTable } from '../text/buses.ts';
import { writeCsv } from '../text/csv.ts';
import { emptyLineFrame, LINE, LINE_WORDS, type LineParser, lineParser } from '../text/lines.ts';
import { type QuickLines, quickLines, type TextRun } from '../text/quick.ts';
import { settleColumns } from '../text/settle.ts';
import type { CaptureFormat, CaptureReader, ReadOptions } from './format.ts';

export const text: CaptureFormat = {
  name: 'text',
  words: 'text with one frame a line, columns inferred; written as CSV',
  extensions: ['.csv', '.txt', '.log'],
  recognises: (head) => head.length > 0 && binaryAt(head) < 0,
  open: (into, options) => new TextReader(into, options ?? {}),
  write: writeCsv,
};

/** Bytes looked at before the columns are settled. */
const SAMPLE = 64 * 1024;
const SAMPLE_LINES = 400;
const LONGEST_LINE = 64 * 1024;
/** So many lines one after the other for which the short way was of no use: it is not tried again. */
const MOST_IN_VAIN = 100;
/** Times from 1973 on count as absolute; smaller numbers are times since the recorder started. */
const ABSOLUTE_S = 1e8;

class TextReader implements CaptureReader {
  guess = '';
  notes: string[] = [];
  readonly #into: CaptureBuilder;
  readonly #options: ReadOptions;
  readonly #frame = emptyLineFrame();
  #parse: LineParser | null = null;
  /** The short way, where the columns allow one and it gets somewhere. */
  #quick: QuickLines | null = null;
  #quickInVain = 0;
  /** Bytes held back: the sample until the columns are settled, then the start of a line that goes on in the next piece. */
  #held: Uint8Array = new Uint8Array(0);
  readonly #run: TextRun = {
    originSeconds: 0,
    originNanos: 0,
    lastTime: Number.NEGATIVE_INFINITY,
    line: 0,
    backwards: 0,
    firstBackwards: 0,
  };
  #started = false;
  #skipped = new Map<number, { count: number; line: number }>();
  /** Lines before the first frame that give none, the header line among them. */
  #leading = 0;
  /** Why the first of them gives none; the header line does not count. */
  #firstRefusal = '';
  #header: 'header' | 'none' = 'none';

  constructor(into: CaptureBuilder, options: ReadOptions) {
    this.#into = into;
    this.#options = options;
  }

  push(piece: Uint8Array): void {
    if (this.#parse === null) {
      this.#held = joined(this.#held, piece, 0, piece.length);
      if (this.#held.length < SAMPLE) return;
      this.#settle('more');
      const held = this.#held;
      this.#held = new Uint8Array(0);
      this.#lines(held);
      return;
    }
    let from = 0;
    if (this.#held.length > 0) {
      const end = piece.indexOf(10);
      if (end < 0) {
        this.#hold(joined(this.#held, piece, 0, piece.length));
        return;
      }
      const line = joined(this.#held, piece, 0, end + 1);
      this.#held = new Uint8Array(0);
      this.#lines(line);
      from = end + 1;
    }
    this.#lines(from === 0 ? piece : piece.subarray(from));
  }

  end(): void {
    if (this.#parse === null) {
      this.#settle('all');
      const held = this.#held;
      this.#held = new Uint8Array(0);
      this.#lines(held);
    }
    if (this.#held.length > 0) this.#lastLine();
    if (this.#leading > (this.#header === 'header' ? 1 : 0)) {
      this.notes.push(
        this.#leading === 1
          ? 'The line before the first frame holds none.'
          : `The ${this.#leading} lines before the first frame hold none${this.#header === 'header' ? ', the header line among them' : ''}.`,
      );
    }
    for (const [why, { count, line }] of this.#skipped) {
      const words = LINE_WORDS[why] as string;
      this.notes.push(
        count === 1
          ? `1 line was skipped: line ${line} holds ${words}.`
          : `${count} lines were skipped, the first of them line ${line}: it holds ${words}.`,
      );
    }
    if (this.#run.backwards > 0) {
      this.notes.push(
        `Time goes backwards ${this.#run.backwards === 1 ? 'once' : `${this.#run.backwards} times`}, first at line ${this.#run.firstBackwards}; frames stay in recorded order.`,
      );
    }
    if (this.#into.busNames.size > 0) {
      const names = [...this.#into.busNames].sort((a, b) => a[0] - b[0]);
      this.notes.push(`Bus names: ${names.map(([number, name]) => `${name} = ${number}`).join(', ')}.`);
    }
    if (this.#into.count === 0) {
      throw new CaptureError(
        `No frame was found in ${this.#run.line === 1 ? '1 line' : `${this.#run.line} lines`}${this.#firstRefusal}: right would be lines such as 0.001000,0,1A0,0,f900 with a time, an identifier and a payload.`,
      );
    }
  }

  /** Settles the columns from what is held; `extent` says whether that is the whole recording. */
  #settle(extent: 'more' | 'all'): void {
    refuseBinary(this.#held);
    if (this.#held[0] === 0xef && this.#held[1] === 0xbb && this.#held[2] === 0xbf)
      this.#held = this.#held.subarray(3);
    const sample = this.#held.subarray(0, SAMPLE);
    const lines = new TextDecoder('latin1').decode(sample).split(/\r?\n/);
    if (extent === 'more' || sample.length < this.#held.length || lines.at(-1) === '') lines.pop();
    if (extent === 'more' && lines.length === 0) throw tooLong(1);
    const settled = settleColumns(lines.slice(0, SAMPLE_LINES), this.#options.columns);
    this.guess = settled.guess;
    this.#header = settled.header;
    if (!settled.layout.columns.some((column) => column.kind === 'time')) {
      this.notes.push('No column holds time: all frames stand at 0 s.');
    }
    const buses = new BusTable(this.#into.busNames);
    this.#parse = lineParser(settled.layout, this.#frame, buses);
    this.#quick = quickLines(settled.layout, buses);
  }

  #hold(bytes: Uint8Array): void {
    if (bytes.length > LONGEST_LINE) throw tooLong(this.#run.line + 1);
    this.#held = bytes;
  }

  /** Takes all whole lines of `bytes` and holds the rest. */
  #lines(bytes: Uint8Array): void {
    const size = bytes.length;
    let from = 0;
    while (from < size) {
      if (this.#quick !== null && this.#started) {
        const stopped = this.#quick(bytes, from, this.#into, this.#run);
        this.#quickInVain = stopped > from ? 0 : this.#quickInVain + 1;
        if (this.#quickInVain === MOST_IN_VAIN) this.#quick = null;
        if (stopped === size) return;
        from = stopped;
      }
      const end = bytes.indexOf(10, from);
      if (end < 0) {
        this.#hold(bytes.slice(from));
        return;
      }
      this.#take(bytes, from, end);
      from = end + 1;
    }
  }

  #take(bytes: Uint8Array, from: number, to: number): void {
    this.#run.line++;
    const parse = this.#parse as LineParser;
    const code = parse(bytes, from, to);
    if (code !== LINE.frame) {
      if (code === LINE.blank || code === LINE.comment) return;
      if (!this.#started) {
        this.#leading++;
        if (this.#firstRefusal === '' && !(this.#header === 'header' && this.#run.line === 1)) {
          this.#firstRefusal = ` (line ${this.#run.line} holds ${LINE_WORDS[code]})`;
        }
        return;
      }
      const seen = this.#skipped.get(code);
      if (seen) seen.count++;
      else this.#skipped.set(code, { count: 1, line: this.#run.line });
      return;
    }
    const frame = this.#frame;
    if (!this.#started) {
      this.#started = true;
      if (!frame.negative && frame.seconds >= ABSOLUTE_S) {
        this.#run.originSeconds = frame.seconds;
        this.#run.originNanos = Math.floor(frame.nanos);
        this.#into.originNs =
          BigInt(this.#run.originSeconds) * 1_000_000_000n + BigInt(this.#run.originNanos);
      }
    }
    const sign = frame.negative ? -1 : 1;
    // One rounding only: the difference in nanoseconds is exact below 2^53.
    const time =
      ((sign * frame.seconds - this.#run.originSeconds) * 1e9 +
        (sign * frame.nanos - this.#run.originNanos)) /
      1e9;
    if (time < this.#run.lastTime && this.#run.backwards++ === 0) this.#run.firstBackwards = this.#run.line;
    this.#run.lastTime = time;
    this.#into.add(time, frame.bus, frame.id, frame.flags, frame.length, frame.data, 0, frame.stored);
  }

  /** The last line has no line end. Where its payload is shorter than that message's payload before, it was cut. */
  #lastLine(): void {
    const held = this.#held;
    this.#held = new Uint8Array(0);
    const before = this.#into.count;
    const skipped = new Map([...this.#skipped].map(([code, seen]) => [code, { ...seen }]));
    this.#take(held, 0, held.length);
    if (this.#into.count === before) {
      if (countOf(this.#skipped) === countOf(skipped)) return;
      this.#skipped = skipped;
    } else {
      const { id, flags, bus, length } = this.#into.finish();
      let same = before - 1;
      while (
        same >= 0 &&
        (id[same] !== id[before] || bus[same] !== bus[before] || flags[same] !== flags[before])
      ) {
        same--;
      }
      if (same < 0) {
        this.notes.push(
          `The last line (${this.#run.line}) has no line end and may be cut short; it is kept as it is.`,
        );
        return;
      }
      if ((length[same] as number) <= (length[before] as number)) return;
      this.#into.dropLast();
    }
    this.notes.push(`The last line (${this.#run.line}) was cut short and is left out.`);
  }
}

function countOf(skipped: ReadonlyMap<number, { count: number }>): number {
  return [...skipped.values()].reduce((sum, seen) => sum + seen.count, 0);
}

/** @throws CaptureError where these are not the first bytes of a text */
function refuseBinary(held: Uint8Array): void {
  if (held.length === 0) throw new CaptureError('The recording is empty: 0 bytes.');
  if ((held[0] === 0xff && held[1] === 0xfe) || (held[0] === 0xfe && held[1] === 0xff)) {
    throw new CaptureError(
      'The text is in UTF-16 (byte order mark at byte 0): save it as UTF-8 or plain ASCII.',
    );
  }
  const at = binaryAt(held);
  if (at < 0) return;
  throw new CaptureError(
    `This is no recording that can be read: byte ${at} is 0x${hexBytes(held.subarray(at, at + 1))}, which no text holds, and it starts neither like pcap nor like pcapng.`,
  );
}

/** Offset of the first byte that no text holds, or -1. */
function binaryAt(head: Uint8Array): number {
  for (let i = 0; i < head.length; i++) {
    const b = head[i] as number;
    if (b < 32 && b !== 9 && b !== 10 && b !== 13) return i;
  }
  return -1;
}

function tooLong(line: number): CaptureError {
  return new CaptureError(
    `Line ${line} is longer than ${LONGEST_LINE} bytes: a text recording has one frame a line.`,
  );
}
