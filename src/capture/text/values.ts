/** Values out of the bytes of a token, without making strings. */

/** Exact time: whole seconds and the rest in nanoseconds, both to be negated where `negative`. */
export interface ExactTime {
  seconds: number;
  nanos: number;
  negative: boolean;
}

/** Value of a hex digit by its byte; -1 for all others. */
export const NIBBLE = new Int8Array(256).fill(-1);
for (let d = 0; d < 10; d++) NIBBLE[48 + d] = d;
for (let d = 0; d < 6; d++) NIBBLE[65 + d] = NIBBLE[97 + d] = 10 + d;

export const POW10 = Float64Array.from({ length: 16 }, (_, i) => 10 ** i);

/** Where the digits start: behind 0x, if that is there. */
export function afterPrefix(b: Uint8Array, from: number, to: number): number {
  return to - from > 2 && b[from] === 48 && ((b[from + 1] as number) | 32) === 120 ? from + 2 : from;
}

/** One to eight hex digits, 0x before them or not; -1 where it is no such number. */
export function hexNumber(b: Uint8Array, from: number, to: number): number {
  let at = afterPrefix(b, from, to);
  if (at >= to || to - at > 8) return -1;
  let value = 0;
  for (; at < to; at++) {
    const d = NIBBLE[b[at] as number] as number;
    if (d < 0) return -1;
    value = value * 16 + d;
  }
  return value;
}

/** One to fifteen decimal digits; -1 where it is no such number. */
export function decimalNumber(b: Uint8Array, from: number, to: number): number {
  if (from >= to || to - from > 15) return -1;
  let value = 0;
  for (let at = from; at < to; at++) {
    const d = (b[at] as number) - 48;
    if (d < 0 || d > 9) return -1;
    value = value * 10 + d;
  }
  return value;
}

/**
 * Payload bytes into `data`: hex digits two by two, or single bytes in `base` with blanks, dashes, colons, dots or
 * underscores between them. Returns how many, or -1 where they are no whole bytes or more than `data` takes.
 */
export function payloadBytes(
  b: Uint8Array,
  from: number,
  to: number,
  base: number,
  data: Uint8Array,
): number {
  const start = afterPrefix(b, from, to);
  const bytes = (to - start) >> 1;
  if (base === 10 || ((to - start) & 1) === 1 || bytes > data.length)
    return spacedBytes(b, from, to, base, data);
  for (let k = 0, at = start; k < bytes; k++, at += 2) {
    const value = ((NIBBLE[b[at] as number] as number) << 4) | (NIBBLE[b[at + 1] as number] as number);
    if (value < 0) return spacedBytes(b, from, to, base, data);
    data[k] = value;
  }
  return bytes;
}

function spacedBytes(b: Uint8Array, from: number, to: number, base: number, data: Uint8Array): number {
  let count = 0;
  let at = from;
  while (at < to) {
    let end = at;
    while (end < to && !isByteSeparator(b[end] as number)) end++;
    if (end > at) {
      const value = base === 16 ? hexNumber(b, at, end) : decimalNumber(b, at, end);
      const digits = end - afterPrefix(b, at, end);
      if (value < 0 || value > 255 || digits > 3 || (base === 16 && digits > 2) || count === data.length)
        return -1;
      data[count++] = value;
    }
    at = end + 1;
  }
  return count;
}

function isByteSeparator(byte: number): boolean {
  return byte === 32 || byte === 9 || byte === 45 || byte === 58 || byte === 46 || byte === 95;
}

/**
 * A number of seconds × 10^-shift, with a decimal point or comma, into `time`, so that no digit down to the
 * nanosecond is lost. False where it is no number.
 */
export function readTime(b: Uint8Array, from: number, to: number, shift: number, time: ExactTime): boolean {
  let at = from;
  time.negative = false;
  if (at < to && (b[at] === 45 || b[at] === 43)) {
    time.negative = b[at] === 45;
    at++;
  }
  let point = at;
  while (point < to && (b[point] as number) >= 48 && (b[point] as number) <= 57) point++;
  if (point === at && (point === to || point + 1 === to)) return false;
  const split = point - shift;
  if (split - at > 15) return false;
  let seconds = 0;
  let rest = 0;
  let digits = shift;
  for (; at < point; at++) {
    const d = (b[at] as number) - 48;
    if (at < split) seconds = seconds * 10 + d;
    else rest = rest * 10 + d;
  }
  if (at < to) {
    if (b[at] === 46 || b[at] === 44) at++;
    else if (((b[at] as number) | 32) !== 101) return false;
    for (; at < to; at++) {
      const d = (b[at] as number) - 48;
      if (d < 0 || d > 9) return readExponent(b, from, to, at, shift, time);
      if (digits < 15) {
        rest = rest * 10 + d;
        digits++;
      }
    }
  }
  time.seconds = seconds;
  time.nanos = digits <= 9 ? rest * (POW10[9 - digits] as number) : rest / (POW10[digits - 9] as number);
  return true;
}

/** 1.5e-3 and its kind: rare, so by way of a string. */
function readExponent(
  b: Uint8Array,
  from: number,
  to: number,
  at: number,
  shift: number,
  time: ExactTime,
): boolean {
  if (((b[at] as number) | 32) !== 101 || to - from > 40) return false;
  let text = '';
  for (let k = from; k < to; k++) text += String.fromCharCode(b[k] as number);
  const value = Math.abs(Number(text.replace(',', '.'))) / (POW10[shift] as number);
  if (!(value < 1e15)) return false;
  time.seconds = Math.floor(value);
  time.nanos = (value - time.seconds) * 1e9;
  return true;
}

/** h:mm:ss with or without a fraction, as seconds from midnight. */
export function readClock(b: Uint8Array, from: number, to: number, time: ExactTime): boolean {
  const first = b.indexOf(58, from);
  const second = first < 0 ? -1 : b.indexOf(58, first + 1);
  if (second < 0 || second >= to) return false;
  const hours = decimalNumber(b, from, first);
  const minutes = decimalNumber(b, first + 1, second);
  if (hours < 0 || hours > 23 || minutes < 0 || minutes > 59) return false;
  if (!readTime(b, second + 1, to, 0, time) || time.negative || time.seconds > 60) return false;
  time.seconds += hours * 3600 + minutes * 60;
  return true;
}

/** Seconds from 1970 to the start of the day yyyy-mm-dd (any sign between), UTC; NaN where it is none. */
export function daySeconds(b: Uint8Array, from: number, to: number): number {
  if (to - from !== 10) return Number.NaN;
  const year = decimalNumber(b, from, from + 4);
  const month = decimalNumber(b, from + 5, from + 7);
  const day = decimalNumber(b, from + 8, from + 10);
  if (year < 1970 || month < 1 || month > 12 || day < 1 || day > 31) return Number.NaN;
  return Date.UTC(year, month - 1, day) / 1000;
}

/** yyyy-mm-ddThh:mm:ss (or a blank for T) with or without a fraction and Z, read as UTC. */
export function readDate(b: Uint8Array, from: number, to: number, time: ExactTime): boolean {
  const end = ((b[to - 1] as number) | 32) === 122 ? to - 1 : to;
  if (end - from < 19) return false;
  const day = daySeconds(b, from, from + 10);
  if (!(day >= 0) || !readClock(b, from + 11, end, time)) return false;
  time.seconds += day;
  return true;
}
