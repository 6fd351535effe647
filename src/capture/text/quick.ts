/**
 * The short way for lines as most recordings have them: plain numbers with single separators. One pass over the bytes, straight into
 * the capture's arrays. It stops in front of any line about which there is more to say, and `lines.ts` reads that one: what
 * both read, they read alike.
 */
import { FLAG, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import type { CaptureBuilder } from '../store.ts';
import type { Column, TextLayout } from './columns.ts';
import { type BusNumbers, DLC_BYTES, IS_LENGTH, isOneOf, isWrap, lettersFlags } from './lines.ts';
import { NIBBLE, POW10 } from './values.ts';

/** What carries over from line to line. */
export interface TextRun {
  originSeconds: number;
  originNanos: number;
  /** Time of the frame before, in seconds since the origin. */
  lastTime: number;
  /** Lines so far. */
  line: number;
  backwards: number;
  firstBackwards: number;
}

/** Takes lines from `b[from …)` and returns where it stopped: at a line for `lines.ts`, or behind the last line end. */
export type QuickLines = (b: Uint8Array, from: number, into: CaptureBuilder, run: TextRun) => number;

const K = {
  time: 0,
  bus: 1,
  id: 2,
  ext: 3,
  length: 4,
  data: 5,
  bytes: 6,
  direction: 7,
  flags: 8,
  ignored: 9,
} as const;
const SHIFT = { s: 0, ms: 3, us: 6, ns: 9 } as const;

/** Null where lines of this layout are never plain enough. */
export function quickLines(layout: TextLayout, buses: BusNumbers): QuickLines | null {
  const separator = layout.separator.charCodeAt(0);
  // A joined frame is an identifier that ends in # and a payload.
  const columns = layout.columns.flatMap((column) =>
    column.kind === 'joined'
      ? [{ kind: 'id', base: 16 } as const, { kind: 'data', base: 16 } as const]
      : [column],
  );
  const lastColumn = columns.length - 1;
  const kinds = Uint8Array.from(columns, (column, c) => plainKind(column, c === lastColumn));
  if (kinds.includes(NOT_PLAIN) || !areOnce(kinds)) return null;
  const joinedAt = layout.columns.findIndex(({ kind }) => kind === 'joined');
  const ends = Uint8Array.from(columns, (_, c) => (c === joinedAt ? 35 : separator));
  const shifts = Uint8Array.from(columns, (c) => (c.kind === 'time' ? SHIFT[c.unit] : 0));
  const bases = Uint8Array.from(columns, (c) => ('base' in c ? c.base : 16));
  const hasExt = layout.extendedBy === 'column';
  const byDigits = layout.extendedBy === 'digits';
  const blanks = separator === 32;
  // Each column but a payload takes a byte and the separator or line end behind it.
  const shortest = columns.reduce((sum, { kind }) => sum + (MAY_BE_EMPTY.includes(kind) ? 1 : 2), 0);
  /** Bus numbers of one digit that the bus table has heard of. */
  let heard = 0;

  return (b, from, into, run) => {
    const last = b.lastIndexOf(10);
    if (last < from) return from;
    // Every line read below ends at or before `last`, so no loop over digits can run past it.
    const limit = into.count + Math.ceil((last + 1 - from) / shortest);
    const { time, id, bus, flags, length, offset, payload } = into.reserve(
      limit - into.count,
      last + 1 - from,
    );
    const { originSeconds, originNanos } = run;
    const firstRow = into.count;
    let n = firstRow;
    let used = into.used;
    let lastTime = run.lastTime;
    let line = run.line;
    let start = from;
    lines: while (start <= last && n < limit) {
      let at = start;
      let seconds = 0;
      let nanos = 0;
      let busNumber = 0;
      let frameId = 0;
      let frameFlags = 0;
      let ext = 0;
      let stated = -1;
      let stored = 0;
      if (blanks) while (b[at] === 32 || b[at] === 9) at++;
      if (b[at] === 35 || (b[at] as number) <= 32) break;
      for (let c = 0; c <= lastColumn; c++) {
        const tokenAt = at;
        switch (kinds[c]) {
          case K.time: {
            const shift = shifts[c] as number;
            let digit = (b[at] as number) - 48;
            if (!(digit >= 0 && digit <= 9)) break lines;
            let rest = 0;
            if (shift === 0) {
              let whole = 0;
              const nine = at + 9;
              while (digit >= 0 && digit <= 9 && at < nine) {
                whole = (Math.imul(whole, 10) + digit) | 0;
                digit = (b[++at] as number) - 48;
              }
              seconds = whole;
              while (digit >= 0 && digit <= 9) {
                seconds = seconds * 10 + digit;
                digit = (b[++at] as number) - 48;
              }
              if (at - tokenAt > 15) break lines;
            } else {
              while (digit >= 0 && digit <= 9) digit = (b[++at] as number) - 48;
              const split = at - shift;
              if (split - tokenAt > 15) break lines;
              let k = tokenAt;
              for (; k < split; k++) seconds = seconds * 10 + ((b[k] as number) - 48);
              for (; k < at; k++) rest = (Math.imul(rest, 10) + (b[k] as number) - 48) | 0;
            }
            let digits = shift;
            const point = b[at] as number;
            if (point !== separator && (point === 46 || point === 44)) {
              digit = (b[++at] as number) - 48;
              while (digit >= 0 && digit <= 9 && digits < 9) {
                rest = (Math.imul(rest, 10) + digit) | 0;
                digits++;
                digit = (b[++at] as number) - 48;
              }
            }
            nanos = digits === 9 ? rest : rest * (POW10[9 - digits] as number);
            break;
          }
          case K.bus: {
            let byte = b[at] as number;
            if (byte <= 32 || isWrap(byte)) break lines;
            while (byte !== separator && byte > 32) byte = b[++at] as number;
            // Only what is surely the whole name may reach the bus table, which remembers it.
            const isEnd = byte === separator || (c === lastColumn && byte === 10);
            if (!isEnd || at === tokenAt || isWrap(b[at - 1] as number)) break lines;
            busNumber = at === tokenAt + 1 ? (b[tokenAt] as number) - 48 : -1;
            if (busNumber >= 0 && busNumber <= 9 && (heard & (1 << busNumber)) !== 0) break;
            if (busNumber >= 0 && busNumber <= 9) heard |= 1 << busNumber;
            busNumber = buses.number(b, tokenAt, at);
            if (busNumber < 0) break lines;
            break;
          }
          case K.id: {
            if (bases[c] === 16) {
              let nibble = NIBBLE[b[at] as number] as number;
              while (nibble >= 0 && at < tokenAt + 8) {
                frameId = (frameId << 4) | nibble;
                nibble = NIBBLE[b[++at] as number] as number;
              }
            } else {
              let digit = (b[at] as number) - 48;
              while (digit >= 0 && digit <= 9 && at < tokenAt + 9) {
                frameId = (Math.imul(frameId, 10) + digit) | 0;
                digit = (b[++at] as number) - 48;
              }
            }
            if (at === tokenAt || frameId < 0 || frameId > MAX_EXTENDED_ID) break lines;
            if (frameId > MAX_BASE_ID || (byDigits && at - tokenAt >= 8)) frameFlags |= FLAG.extended;
            break;
          }
          case K.data: {
            let high = NIBBLE[b[at] as number] as number;
            while (high >= 0 && stored < 64) {
              const low = NIBBLE[b[at + 1] as number] as number;
              if (low < 0) break lines;
              payload[used + stored++] = (high << 4) | low;
              at += 2;
              high = NIBBLE[b[at] as number] as number;
            }
            // With blanks between columns a payload that is not there is no column at all.
            if (blanks && at === tokenAt) break lines;
            break;
          }
          case K.ext: {
            ext = (b[at] as number) - 48;
            if (ext !== 0 && ext !== 1) break lines;
            at++;
            break;
          }
          case K.length: {
            let digit = (b[at] as number) - 48;
            if (!(digit >= 0 && digit <= 9)) break lines;
            stated = digit;
            digit = (b[++at] as number) - 48;
            if (digit >= 0 && digit <= 9) {
              stated = stated * 10 + digit;
              at++;
            }
            if (stated > 64) break lines;
            break;
          }
          case K.bytes: {
            const room = stated >= 0 ? stated : 65;
            const base = bases[c] as number;
            const longest = base === 16 ? 2 : 3;
            while (stored < room) {
              if (blanks && (b[at] === 10 || b[at] === 13)) break;
              const from = at;
              let value = 0;
              let nibble = NIBBLE[b[at] as number] as number;
              while (nibble >= 0 && nibble < base && at < from + longest) {
                value = value * base + nibble;
                nibble = NIBBLE[b[++at] as number] as number;
              }
              if (at === from || value > 255 || stored === 64) break lines;
              payload[used + stored++] = value;
              if (stored === room) break;
              const next = b[at] as number;
              if (next === 10 || next === 13) break;
              if (next !== separator) break lines;
              at++;
              if (blanks) while (b[at] === 32) at++;
            }
            break;
          }
          default: {
            let byte = b[at] as number;
            while (byte !== separator && byte !== 10 && byte !== 13 && !(blanks && byte <= 32))
              byte = b[++at] as number;
            if (blanks && at === tokenAt) break lines;
            if (kinds[c] === K.ignored) break;
            if (at > tokenAt && (isWrap(b[tokenAt] as number) || (b[tokenAt] as number) <= 32)) break lines;
            if (kinds[c] === K.flags) frameFlags |= lettersFlags(b, tokenAt, at);
            else if (at > tokenAt && isOneOf(b[tokenAt] as number, 116, 111, 115)) frameFlags |= FLAG.sent;
          }
        }
        if (c === lastColumn) break;
        if (b[at] !== ends[c]) break lines;
        at++;
        if (blanks && ends[c] === 32) while (b[at] === 32 || b[at] === 9) at++;
      }
      let byte = b[at] as number;
      if (byte === separator) {
        // What stands behind the columns is not looked at.
        while (byte !== 10) byte = b[++at] as number;
      } else if (byte === 13) byte = b[++at] as number;
      if (byte !== 10) break;
      if (hasExt) {
        if (ext === 0 && frameId > MAX_BASE_ID) break;
        frameFlags = ext === 0 ? frameFlags & ~FLAG.extended : frameFlags | FLAG.extended;
      }
      if ((frameFlags & FLAG.remote) !== 0 || IS_LENGTH[stored] !== 1) break;
      if (stored > 8) frameFlags |= FLAG.fd;
      if (stated >= 0 && stated !== stored && DLC_BYTES[stated] !== stored) break;

      line++;
      const t = ((seconds - originSeconds) * 1e9 + (nanos - originNanos)) / 1e9;
      if (t < lastTime && run.backwards++ === 0) run.firstBackwards = line;
      lastTime = t;
      time[n] = t;
      id[n] = frameId;
      bus[n] = busNumber;
      flags[n] = frameFlags;
      length[n] = stored;
      offset[n] = used;
      used += stored;
      n++;
      start = at + 1;
    }
    run.line = line;
    run.lastTime = lastTime;
    into.commit(n - firstRow, used - into.used);
    return start;
  };
}

const MAY_BE_EMPTY: readonly Column['kind'][] = ['data', 'bytes', 'direction', 'flags', 'ignored'];
const NOT_PLAIN = 255;

/** Number of the kind of column, or `NOT_PLAIN`. */
function plainKind(column: Column, isLast: boolean): number {
  switch (column.kind) {
    case 'day':
    case 'joined':
      return NOT_PLAIN;
    case 'time':
      return column.form === 'number' ? K.time : NOT_PLAIN;
    case 'data':
      return column.base === 16 ? K.data : NOT_PLAIN;
    case 'bytes':
      return isLast && column.fields === 0 ? K.bytes : NOT_PLAIN;
    default:
      return K[column.kind];
  }
}

/** Whether no column but ignored ones stands twice: with two of a kind the later counts. */
function areOnce(kinds: Uint8Array): boolean {
  const telling = kinds.filter((kind) => kind !== K.ignored);
  const payloads = telling.filter((kind) => kind === K.data || kind === K.bytes);
  return new Set(telling).size === telling.length && payloads.length <= 1;
}
