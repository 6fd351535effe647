/** Reads one line of bytes by a layout: no strings, no objects, one pass over the bytes. */
import { FLAG, isPayloadLength, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import type { Column, TextLayout } from './columns.ts';
import {
  afterPrefix,
  daySeconds,
  decimalNumber,
  type ExactTime,
  hexNumber,
  payloadBytes,
  readClock,
  readDate,
  readTime,
} from './values.ts';

/** What a line gave; 0 = a frame. */
export const LINE = {
  frame: 0,
  blank: 1,
  comment: 2,
  badTime: 3,
  badId: 4,
  badPayload: 5,
  badLength: 6,
  tooShort: 7,
  badBus: 8,
} as const;

/** The words for `LINE` codes, as they complete "the line holds …". */
export const LINE_WORDS = [
  'a frame',
  'nothing',
  'a comment',
  'no readable time',
  'no identifier between 0 and 1FFFFFFF',
  'no payload of 0 to 8, 12, 16, 20, 24, 32, 48 or 64 whole bytes',
  'a length that does not fit its payload',
  'too few columns',
  'a bus beyond the 256 that can be told apart',
];

/** What one line said. One object serves all lines. */
export interface LineFrame extends ExactTime {
  bus: number;
  id: number;
  flags: number;
  length: number;
  /** Bytes of `data` that are the payload. */
  stored: number;
  readonly data: Uint8Array;
}

export function emptyLineFrame(): LineFrame {
  return {
    seconds: 0,
    nanos: 0,
    negative: false,
    bus: 0,
    id: 0,
    flags: 0,
    length: 0,
    stored: 0,
    data: new Uint8Array(64),
  };
}

/** Numbers for the tokens that name a bus; -1 where there are too many. */
export interface BusNumbers {
  number(bytes: Uint8Array, from: number, to: number): number;
}

/** Reads `bytes[from … to)`, a line without its end, into the frame it was made with; returns a `LINE` code. */
export type LineParser = (bytes: Uint8Array, from: number, to: number) => number;

const KINDS = [
  'time',
  'day',
  'bus',
  'id',
  'ext',
  'length',
  'data',
  'bytes',
  'joined',
  'direction',
  'flags',
  'ignored',
] as const;
const K = Object.fromEntries(KINDS.map((kind, i) => [kind, i])) as Record<Column['kind'], number>;
const SHIFT = { s: 0, ms: 3, us: 6, ns: 9 } as const;
const CLOCK = -1;
const DATE = -2;
/** Bytes by DLC (ISO 11898-1). */
export const DLC_BYTES = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];
/** 1 where a frame can have so many payload bytes. */
export const IS_LENGTH = new Uint8Array(65);
for (const n of DLC_BYTES) IS_LENGTH[n] = 1;

/** Tokens may stand in quotes or brackets; hex numbers may start with 0x. */
export function lineParser(layout: TextLayout, frame: LineFrame, buses: BusNumbers): LineParser {
  const { columns } = layout;
  const n = columns.length;
  const kinds = Uint8Array.from(columns, (c) => K[c.kind]);
  const details = Int32Array.from(columns, detailOf);
  const byteFields = columns.map((c) => (c.kind === 'bytes' ? c.fields : 0));
  const hasLength = columns.some((c) => c.kind === 'length');
  const hasExt = layout.extendedBy === 'column';
  const byDigits = layout.extendedBy === 'digits';
  const separator = layout.separator.charCodeAt(0);
  const blanks = separator === 32;
  const tabs = separator === 9;

  const setId = (b: Uint8Array, from: number, to: number, base: number): boolean => {
    const start = afterPrefix(b, from, to);
    let value = base === 16 || start !== from ? hexNumber(b, from, to) : decimalNumber(b, from, to);
    let extended = value > MAX_BASE_ID || (byDigits && to - start >= 8);
    // SocketCAN marks 29-bit identifiers by bit 31, and some recorders print that word.
    if (value >= 0x8000_0000) {
      value -= 0x8000_0000;
      extended = true;
    }
    if (value < 0 || value > MAX_EXTENDED_ID) return false;
    frame.id = value;
    if (extended) frame.flags |= FLAG.extended;
    return true;
  };

  return (b, lineFrom, lineTo) => {
    let at = lineFrom;
    let to = lineTo;
    while (to > at && (b[to - 1] as number) <= 32 && b[to - 1] !== separator) to--;
    while (at < to && (b[at] === 32 || (b[at] === 9 && !tabs))) at++;
    if (at >= to) return LINE.blank;
    if (b[at] === 35) return LINE.comment;
    frame.flags = frame.bus = frame.seconds = frame.nanos = frame.stored = 0;
    frame.negative = false;
    let stated = -1;
    let day = 0;
    let ext = false;
    let taken = 0;
    for (let c = 0; c < n; ) {
      const kind = kinds[c] as number;
      while (at < to && (b[at] === 32 || (b[at] === 9 && !tabs))) at++;
      // Behind the last separator one column is still there, if an empty one; behind the last blank there is none.
      const missing = blanks ? at >= to : at > to;
      if (missing) {
        if (kind === K.bytes || kind === K.ignored || (blanks && kind === K.data)) {
          c++;
          continue;
        }
        if (kind === K.flags && blanks) break;
        return LINE.tooShort;
      }
      if (kind === K.data && blanks && stated === 0) {
        c++;
        continue;
      }
      if (kind === K.bytes) {
        const room = byteFields[c] || (hasLength && stated >= 0 ? stated : 65);
        if (taken >= room) {
          c++;
          continue;
        }
      }
      let end = at;
      if (blanks) while (end < to && (b[end] as number) > 32) end++;
      else while (end < to && b[end] !== separator) end++;
      let tokenTo = end;
      while (tokenTo > at && ((b[tokenTo - 1] as number) <= 32 || isWrap(b[tokenTo - 1] as number)))
        tokenTo--;
      let from = at;
      while (from < tokenTo && isWrap(b[from] as number)) from++;
      at = end + (blanks ? 0 : 1);
      const detail = details[c] as number;
      switch (kind) {
        case K.time:
          if (
            !(detail === CLOCK
              ? readClock(b, from, tokenTo, frame)
              : detail === DATE
                ? readDate(b, from, tokenTo, frame)
                : readTime(b, from, tokenTo, detail, frame))
          ) {
            return LINE.badTime;
          }
          break;
        case K.day:
          day = daySeconds(b, from, tokenTo);
          if (!(day >= 0)) return LINE.badTime;
          break;
        case K.bus:
          frame.bus = buses.number(b, from, tokenTo);
          if (frame.bus < 0) return LINE.badBus;
          break;
        case K.id:
          if (!setId(b, from, tokenTo, detail)) return LINE.badId;
          break;
        case K.ext:
          ext = from < tokenTo && saysYes(b[from] as number);
          break;
        case K.length:
          stated = decimalNumber(b, from, tokenTo);
          if (stated < 0 || stated > 64) return LINE.badLength;
          break;
        case K.data:
          frame.stored = payloadBytes(b, from, tokenTo, detail, frame.data);
          if (frame.stored < 0) return LINE.badPayload;
          break;
        case K.bytes: {
          taken++;
          if (from === tokenTo) continue;
          // Fields behind the stated length may hold anything.
          if (stated >= 0 && frame.stored >= stated) continue;
          const value = detail === 16 ? hexNumber(b, from, tokenTo) : decimalNumber(b, from, tokenTo);
          if (value < 0 || value > 255 || frame.stored >= 64 || frame.stored !== taken - 1)
            return LINE.badPayload;
          frame.data[frame.stored++] = value;
          continue;
        }
        case K.joined: {
          let hash = from;
          while (hash < tokenTo && b[hash] !== 35) hash++;
          if (hash === tokenTo || !setId(b, from, hash, 16)) return LINE.badId;
          if (((b[hash + 1] as number) | 32) === 114 && hash + 1 < tokenTo) {
            // R in place of the payload: a remote frame, with its length behind where it has one.
            frame.flags |= FLAG.remote;
            if (hash + 2 < tokenTo) stated = decimalNumber(b, hash + 2, tokenTo);
            if (stated > 8 || (stated < 0 && hash + 2 < tokenTo)) return LINE.badLength;
            break;
          }
          frame.stored = payloadBytes(b, hash + 1, tokenTo, 16, frame.data);
          if (frame.stored < 0) return LINE.badPayload;
          break;
        }
        case K.direction:
          // Tx, out, sent: not received.
          if (from < tokenTo && /* t, o, s */ isOneOf(b[from] as number, 116, 111, 115))
            frame.flags |= FLAG.sent;
          break;
        case K.flags:
          frame.flags |= lettersFlags(b, from, tokenTo);
      }
      c++;
    }
    frame.seconds += day;
    if (hasExt) {
      // In an error message the identifier holds classes of error instead.
      if (!ext && frame.id > MAX_BASE_ID && (frame.flags & FLAG.error) === 0) return LINE.badId;
      frame.flags = ext ? frame.flags | FLAG.extended : frame.flags & ~FLAG.extended;
    }
    if (frame.flags & FLAG.remote) {
      frame.length = Math.max(stated, 0);
      frame.stored = 0;
      return isPayloadLength(frame.length, (frame.flags & FLAG.fd) !== 0) ? LINE.frame : LINE.badLength;
    }
    if (frame.stored > 8) frame.flags |= FLAG.fd;
    if (IS_LENGTH[frame.stored] !== 1) return LINE.badPayload;
    if (stated >= 0 && stated !== frame.stored && DLC_BYTES[stated] !== frame.stored) return LINE.badLength;
    frame.length = frame.stored;
    return LINE.frame;
  };
}

function detailOf(column: Column): number {
  switch (column.kind) {
    case 'time':
      return column.form === 'number' ? SHIFT[column.unit] : column.form === 'clock' ? CLOCK : DATE;
    case 'id':
    case 'data':
    case 'bytes':
      return column.base;
    default:
      return 0;
  }
}

/** Quotes and brackets around a token. */
export function isWrap(byte: number): boolean {
  return byte === 34 || byte === 39 || byte === 40 || byte === 41 || byte === 91 || byte === 93;
}

/** First letters of 1, true, yes, extended, x. */
function saysYes(byte: number): boolean {
  return byte === 49 || isOneOf(byte, 116, 121) || isOneOf(byte, 101, 120);
}

/** Whether the letter is one of those, in either case. */
export function isOneOf(byte: number, a: number, b: number, c = a): boolean {
  const lower = byte | 32;
  return lower === a || lower === b || lower === c;
}

/** `FLAG` values of letters as in `FLAG_LETTERS`. */
export function lettersFlags(b: Uint8Array, from: number, to: number): number {
  let flags = 0;
  for (let at = from; at < to; at++) {
    switch ((b[at] as number) & 0xdf) {
      case 82:
        flags |= FLAG.remote;
        break;
      case 87:
        flags |= FLAG.error;
        break;
      case 70:
        flags |= FLAG.fd;
        break;
      case 66:
        // Only FD frames have it; the next likewise.
        flags |= FLAG.bitRateSwitch | FLAG.fd;
        break;
      case 69:
        flags |= FLAG.errorState | FLAG.fd;
        break;
      case 84:
        flags |= FLAG.sent;
    }
  }
  return flags;
}
