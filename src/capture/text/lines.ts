/** Parses one line of bytes by a layout: no strings, no objects, one pass over the bytes. */
import { FLAG, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import type { Column, TextLayout } from './columns.ts';

/** Why a line gave no frame; 0 = it gave one. */
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
  'no payload of whole bytes',
  'a length that does not fit its payload',
  'too few columns',
  'more than 256 buses',
];

/** What one line said. One object serves all lines. */
export interface LineFrame {
  /** Whole seconds and the rest in nanoseconds, exact (0 ≤ nanos < 1e9, both negated where `negative`). */
  seconds: number;
  nanos: number;
  negative: boolean;
  bus: number;
  id: number;
  flags: number;
  length: number;
  stored: number;
  readonly data: Uint8Array;
}

/** Reads `bytes[from … to)` into the frame it was made with; returns a `LINE` code. */
export type LineParser = (bytes: Uint8Array, from: number, to: number) => number;

/** Numbers for bus names: by the digits a name ends in where they are free, else in order of appearance. */
export interface BusNumbers {
  number(bytes: Uint8Array, from: number, to: number): number;
}

const NIBBLE = new Int8Array(256).fill(-1);
for (let d = 0; d < 10; d++) NIBBLE[48 + d] = d;
for (let d = 0; d < 6; d++) NIBBLE[65 + d] = NIBBLE[97 + d] = 10 + d;

const KIND = [
  'time',
  'day',
  'bus',
  'id',
  'ext',
  'length',
  'data',
  'bytes',
  'joined',
  'flags',
  'ignored',
] as const;
const K = Object.fromEntries(KIND.map((kind, i) => [kind, i])) as Record<Column['kind'], number>;
const SHIFT = { s: 0, ms: 3, us: 6, ns: 9 } as const;
const POW10 = Float64Array.from({ length: 16 }, (_, i) => 10 ** i);
const DLC_BYTES = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];
const CLOCK = -1;
const DATE = -2;

/** Payload lengths that a classical or FD frame can have, by value. */
const PAYLOAD_LENGTH = new Uint8Array(65);
for (const n of DLC_BYTES) PAYLOAD_LENGTH[n] = 1;

/**
 * A function that reads the line `bytes[from … to)` (without its line end) into `frame` and returns a `LINE` code.
 * Tokens may stand in quotes or brackets; hex numbers may start with 0x.
 */
export function lineParser(layout: TextLayout, frame: LineFrame, buses: BusNumbers): LineParser {
  const { columns } = layout;
  const n = columns.length;
  const kind = Uint8Array.from(columns, (c) => K[c.kind]);
  const detail = Int32Array.from(columns, (c) =>
    c.kind === 'time'
      ? c.form === 'number'
        ? SHIFT[c.unit]
        : c.form === 'clock'
          ? CLOCK
          : DATE
      : c.kind === 'id' || c.kind === 'bytes'
        ? c.base
        : 0,
  );
  const fields = Int32Array.from(columns, (c) => (c.kind === 'bytes' ? c.fields : 0));
  const hasLength = columns.some((c) => c.kind === 'length');
  const hasExt = layout.extendedBy === 'column';
  const byDigits = layout.extendedBy === 'digits';
  const last = columns.reduce((at, c, i) => (c.kind === 'ignored' ? at : i), 0);
  const separator = layout.separator.charCodeAt(0);
  const blanks = separator === 32;
  const data = frame.data;
  let digits = 0;

  function hexNumber(b: Uint8Array, from: number, to: number): number {
    let at = from;
    if (to - from > 2 && b[at] === 48 && ((b[at + 1] as number) | 32) === 120) at += 2;
    if (at === to || to - at > 8) return -1;
    digits = to - at;
    let value = 0;
    for (; at < to; at++) {
      const d = NIBBLE[b[at] as number] as number;
      if (d < 0) return -1;
      value = value * 16 + d;
    }
    return value;
  }

  function decimalNumber(b: Uint8Array, from: number, to: number): number {
    if (from === to || to - from > 15) return -1;
    let value = 0;
    for (let at = from; at < to; at++) {
      const d = (b[at] as number) - 48;
      if (d < 0 || d > 9) return -1;
      value = value * 10 + d;
    }
    return value;
  }

  /** Sets the identifier and its width; false where it is none. */
  function setId(b: Uint8Array, from: number, to: number, base: number): boolean {
    digits = 0;
    let value = -1;
    if (base === 16 || (to - from > 2 && ((b[from + 1] as number) | 32) === 120)) {
      value = hexNumber(b, from, to);
    } else value = decimalNumber(b, from, to);
    if (value < 0) return false;
    let extended = value > MAX_BASE_ID || (byDigits && digits >= 8);
    if (value >= 0x8000_0000) {
      value -= 0x8000_0000;
      extended = true;
    }
    if (value > MAX_EXTENDED_ID) return false;
    frame.id = value;
    if (extended) frame.flags |= FLAG.extended;
    return true;
  }

  /** Reads hex digits two by two into the payload; false where they are no whole bytes or more than 64. */
  function setData(b: Uint8Array, from: number, to: number): boolean {
    let at = from;
    if (to - from > 1 && b[at] === 48 && ((b[at + 1] as number) | 32) === 120) at += 2;
    const bytes = (to - at) >> 1;
    if (((to - at) & 1) === 1 || bytes > 64) return false;
    for (let k = 0; k < bytes; k++, at += 2) {
      const value = ((NIBBLE[b[at] as number] as number) << 4) | (NIBBLE[b[at + 1] as number] as number);
      if (value < 0) return false;
      data[k] = value;
    }
    frame.stored = bytes;
    return true;
  }

  /** A plain number of seconds × 10^-shift, kept as whole seconds and nanoseconds so that no digit is lost. */
  function setTime(b: Uint8Array, from: number, to: number, shift: number): boolean {
    let at = from;
    frame.negative = false;
    if (at < to && (b[at] === 45 || b[at] === 43)) {
      frame.negative = b[at] === 45;
      at++;
    }
    let point = at;
    while (point < to && (b[point] as number) >= 48 && (b[point] as number) <= 57) point++;
    const whole = point - at;
    if (whole === 0 && (point === to || point + 1 === to)) return false;
    let seconds = 0;
    let rest = 0;
    let restDigits = shift;
    const split = point - shift;
    if (split - at > 15) return false;
    for (; at < point; at++) {
      const d = (b[at] as number) - 48;
      if (at < split) seconds = seconds * 10 + d;
      else rest = rest * 10 + d;
    }
    if (at < to) {
      const mark = b[at] as number;
      if (mark === 46 || mark === 44) at++;
      else if ((mark | 32) !== 101) return false;
      for (; at < to; at++) {
        const d = (b[at] as number) - 48;
        if (d < 0 || d > 9) return exponent(b, from, to, at, shift);
        if (restDigits < 15) {
          rest = rest * 10 + d;
          restDigits++;
        }
      }
    }
    frame.seconds = seconds;
    frame.nanos =
      restDigits <= 9 ? rest * (POW10[9 - restDigits] as number) : rest / (POW10[restDigits - 9] as number);
    return true;
  }

  /** 1.5e-3 and its kind: rare, so by way of a string. */
  function exponent(b: Uint8Array, from: number, to: number, at: number, shift: number): boolean {
    if (((b[at] as number) | 32) !== 101 || to - from > 40) return false;
    let text = '';
    for (let k = from; k < to; k++) text += String.fromCharCode(b[k] as number);
    const value = Math.abs(Number(text.replace(',', '.'))) / (POW10[shift] as number);
    if (!(value < 1e15)) return false;
    frame.seconds = Math.floor(value);
    frame.nanos = (value - frame.seconds) * 1e9;
    return true;
  }

  /** h:mm:ss.fraction; the fraction as in `setTime`. */
  function setClock(b: Uint8Array, from: number, to: number): boolean {
    const first = b.indexOf(58, from);
    const second = first < 0 ? -1 : b.indexOf(58, first + 1);
    if (second < 0 || second >= to) return false;
    const hours = decimalNumber(b, from, first);
    const minutes = decimalNumber(b, first + 1, second);
    if (hours < 0 || hours > 23 || minutes < 0 || minutes > 59) return false;
    if (!setTime(b, second + 1, to, 0) || frame.negative || frame.seconds > 60) return false;
    frame.seconds += hours * 3600 + minutes * 60;
    return true;
  }

  /** Seconds from 1970 to the start of the day yyyy-mm-dd (or with / or .), UTC; NaN where it is none. */
  function daySeconds(b: Uint8Array, from: number, to: number): number {
    if (to - from !== 10) return Number.NaN;
    const year = decimalNumber(b, from, from + 4);
    const month = decimalNumber(b, from + 5, from + 7);
    const day = decimalNumber(b, from + 8, from + 10);
    if (year < 1970 || month < 1 || month > 12 || day < 1 || day > 31) return Number.NaN;
    return Date.UTC(year, month - 1, day) / 1000;
  }

  function setDate(b: Uint8Array, from: number, to: number): boolean {
    const base = daySeconds(b, from, from + 10);
    let end = to;
    if (((b[end - 1] as number) | 32) === 122) end--;
    if (!(base >= 0) || end - from < 19 || !setClock(b, from + 11, end)) return false;
    frame.seconds += base;
    return true;
  }

  function setFlags(b: Uint8Array, from: number, to: number): void {
    for (let at = from; at < to; at++) {
      switch ((b[at] as number) & 0xdf) {
        case 82:
          frame.flags |= FLAG.remote;
          break;
        case 87:
          frame.flags |= FLAG.error;
          break;
        case 70:
          frame.flags |= FLAG.fd;
          break;
        case 66:
          frame.flags |= FLAG.bitRateSwitch;
          break;
        case 69:
          frame.flags |= FLAG.errorState;
          break;
        case 84:
          frame.flags |= FLAG.sent;
      }
    }
  }

  return (b, lineFrom, lineTo) => {
    let at = lineFrom;
    let to = lineTo;
    while (to > at && (b[to - 1] as number) <= 32 && b[to - 1] !== separator) to--;
    while (at < to && ((b[at] as number) === 32 || (b[at] === 9 && separator !== 9))) at++;
    if (at >= to) return LINE.blank;
    if (b[at] === 35) return LINE.comment;
    frame.flags = 0;
    frame.bus = 0;
    frame.seconds = 0;
    frame.nanos = 0;
    frame.negative = false;
    frame.stored = 0;
    let stated = -1;
    let day = 0;
    let ext = 0;
    for (let c = 0; c < n; c++) {
      const what = kind[c] as number;
      if (what === K.bytes) {
        let room = fields[c] as number;
        if (room === 0) room = hasLength && stated >= 0 ? stated : 65;
        const base = detail[c] as number;
        let k = 0;
        let taken = 0;
        let open = true;
        while (taken < room) {
          while (at < to && ((b[at] as number) === 32 || ((b[at] as number) === 9 && separator !== 9))) at++;
          if (at >= to) break;
          let end = at;
          if (blanks) while (end < to && (b[end] as number) > 32) end++;
          else while (end < to && b[end] !== separator) end++;
          let tokenTo = end;
          let tokenFrom = at;
          while (tokenTo > tokenFrom && (b[tokenTo - 1] as number) <= 32) tokenTo--;
          while (tokenTo - tokenFrom > 1 && isWrap(b[tokenFrom] as number)) tokenFrom++;
          while (tokenTo > tokenFrom && isWrap(b[tokenTo - 1] as number)) tokenTo--;
          if (tokenTo === tokenFrom) open = false;
          else {
            const value =
              base === 16 ? hexNumber(b, tokenFrom, tokenTo) : decimalNumber(b, tokenFrom, tokenTo);
            if (value < 0 || value > 255 || k >= 64 || !open) {
              if (stated >= 0 && k >= stated) open = false;
              else return LINE.badPayload;
            } else if (stated < 0 || k < stated) data[k++] = value;
          }
          taken++;
          at = end + (blanks ? 0 : 1);
        }
        frame.stored = k;
        continue;
      }
      while (at < to && ((b[at] as number) === 32 || ((b[at] as number) === 9 && separator !== 9))) at++;
      if (blanks ? at >= to && c <= last && what !== K.flags && what !== K.data : at > to && c <= last) {
        return LINE.tooShort;
      }
      let end = at;
      if (blanks) while (end < to && (b[end] as number) > 32) end++;
      else while (end < to && b[end] !== separator) end++;
      if (what !== K.ignored) {
        let tokenFrom = at;
        let tokenTo = end;
        while (tokenTo > tokenFrom && (b[tokenTo - 1] as number) <= 32) tokenTo--;
        while (tokenTo > tokenFrom && isWrap(b[tokenFrom] as number)) tokenFrom++;
        while (tokenTo > tokenFrom && isWrap(b[tokenTo - 1] as number)) tokenTo--;
        switch (what) {
          case K.time: {
            const shift = detail[c] as number;
            const ok =
              shift === CLOCK
                ? setClock(b, tokenFrom, tokenTo)
                : shift === DATE
                  ? setDate(b, tokenFrom, tokenTo)
                  : setTime(b, tokenFrom, tokenTo, shift);
            if (!ok) return LINE.badTime;
            break;
          }
          case K.day:
            day = daySeconds(b, tokenFrom, tokenTo);
            if (!(day >= 0)) return LINE.badTime;
            break;
          case K.bus:
            frame.bus = buses.number(b, tokenFrom, tokenTo);
            if (frame.bus < 0) return LINE.badBus;
            break;
          case K.id:
            if (!setId(b, tokenFrom, tokenTo, detail[c] as number)) return LINE.badId;
            break;
          case K.ext: {
            const first = (b[tokenFrom] as number) | 32;
            ext = first === 49 || first === 116 || first === 121 || first === 120 || first === 101 ? 1 : 0;
            break;
          }
          case K.length:
            stated = decimalNumber(b, tokenFrom, tokenTo);
            if (stated < 0 || stated > 64) return LINE.badLength;
            break;
          case K.data:
            if (!setData(b, tokenFrom, tokenTo)) return LINE.badPayload;
            break;
          case K.joined: {
            let hash = tokenFrom;
            while (hash < tokenTo && b[hash] !== 35) hash++;
            if (hash === tokenTo || !setId(b, tokenFrom, hash, 16)) return LINE.badId;
            if (!setData(b, hash + 1, tokenTo)) return LINE.badPayload;
            break;
          }
          case K.flags:
            setFlags(b, tokenFrom, tokenTo);
        }
      }
      at = end + (blanks ? 0 : 1);
    }
    frame.seconds += day;
    if (hasExt) {
      if (ext) frame.flags |= FLAG.extended;
      else if (frame.id > MAX_BASE_ID) return LINE.badId;
      else frame.flags &= ~FLAG.extended;
    }
    if (frame.flags & FLAG.remote) {
      frame.length = Math.max(stated, 0);
      frame.stored = 0;
      return frame.length > 8 ? LINE.badLength : LINE.frame;
    }
    if (PAYLOAD_LENGTH[frame.stored] !== 1) return LINE.badPayload;
    if (frame.stored > 8) frame.flags |= FLAG.fd;
    if (stated >= 0 && stated !== frame.stored && !(stated < 16 && DLC_BYTES[stated] === frame.stored)) {
      return LINE.badLength;
    }
    frame.length = frame.stored;
    return LINE.frame;
  };
}

/** Quotes and brackets around a token. */
function isWrap(byte: number): boolean {
  return byte === 34 || byte === 39 || byte === 40 || byte === 41 || byte === 91 || byte === 93;
}
