/** The CSV that recordings are written as: t,bus,id,ext,data and, where frames need it, length and flags. */
import { FLAG, formatId } from '../../can/frame.ts';
import type { WriteOptions } from '../formats/format.ts';
import { storedLength } from '../select.ts';
import type { Capture } from '../store.ts';
import { checkFrames } from '../writable.ts';
import { FLAG_LETTERS, type TextLayout } from './columns.ts';

const PLAIN = 't,bus,id,ext,data';
const FULL = `${PLAIN},length,flags`;
const LINES_A_PIECE = 4096;

/**
 * The capture as CSV: t in seconds (since 1970 where the capture knows it), bus a number, id in hex, ext 1 for 29 bits,
 * data in hex. Remote, error, FD and sent frames bring the columns length and flags (letters, see `FLAG_LETTERS`).
 */
export function* writeCsv(
  capture: Capture,
  { onFrames }: WriteOptions = {},
): Generator<Uint8Array, void, undefined> {
  checkFrames(capture);
  const full = capture.flags.some((flags) => (flags & ~FLAG.extended) !== 0);
  const decimals = isMicroseconds(capture) ? 6 : 9;
  const originSeconds = Number(capture.originNs / 1_000_000_000n);
  const restNs = Number(capture.originNs % 1_000_000_000n);
  const encoder = new TextEncoder();
  let lines = `${full ? FULL : PLAIN}\n`;
  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    const extended = (flags & FLAG.extended) !== 0;
    const ns = restNs + Math.round((capture.time[i] as number) * 1e9);
    const time = secondsText(originSeconds, ns, decimals);
    const id = formatId(capture.id[i] as number, extended);
    lines += `${time},${capture.bus[i]},${id},${extended ? 1 : 0},${payloadText(capture, i)}`;
    if (full) lines += `,${capture.length[i]},${flagLetters(flags)}`;
    lines += '\n';
    if (i % LINES_A_PIECE === LINES_A_PIECE - 1) {
      onFrames?.(i + 1);
      yield encoder.encode(lines);
      lines = '';
    }
  }
  yield encoder.encode(lines);
}

/** The layout of such a file where `header` is its first line, else null. */
export function csvLayout(header: string): TextLayout | null {
  const line = header.trim();
  if (line !== PLAIN && line !== FULL) return null;
  return {
    separator: ',',
    columns: [
      { kind: 'time', form: 'number', unit: 's' },
      { kind: 'bus' },
      { kind: 'id', base: 16 },
      { kind: 'ext' },
      { kind: 'data', base: 16 },
      ...(line === FULL ? ([{ kind: 'length' }, { kind: 'flags' }] as const) : []),
    ],
    extendedBy: 'column',
  };
}

/** Whether no stamp needs more than six decimals. */
function isMicroseconds(capture: Capture): boolean {
  if (capture.originNs % 1000n !== 0n) return false;
  return capture.time.every((t) => Math.round(t * 1e9) % 1000 === 0);
}

/** `seconds` and `ns` nanoseconds (of either sign) as a decimal number. */
function secondsText(seconds: number, ns: number, decimals: number): string {
  let whole = seconds + Math.floor(ns / 1e9);
  let rest = ns - Math.floor(ns / 1e9) * 1e9;
  let sign = '';
  if (whole < 0) {
    sign = '-';
    whole = -whole;
    if (rest > 0) {
      whole -= 1;
      rest = 1e9 - rest;
    }
  }
  return `${sign}${whole}.${String(rest).padStart(9, '0').slice(0, decimals)}`;
}

const HEX = Array.from({ length: 256 }, (_, b) => b.toString(16).padStart(2, '0'));

function payloadText(capture: Capture, i: number): string {
  const from = capture.offset[i] as number;
  const to = from + storedLength(capture, i);
  let text = '';
  for (let k = from; k < to; k++) text += HEX[capture.payload[k] as number];
  return text;
}

function flagLetters(flags: number): string {
  let letters = '';
  for (let k = 0; k < FLAG_LETTERS.length; k++) if (flags & (2 << k)) letters += FLAG_LETTERS[k];
  return letters;
}
