/**
 * Works out what the columns of a text recording mean from a sample of its lines: the separator, a header line where
 * there is one, and for each column what its values allow. Every choice that could have gone another way lowers the confidence.
 */
import { type Column, columnsText, type TextLayout, type TimeUnit } from './columns.ts';
import { LINE, type LineFrame, lineParser } from './lines.ts';

export interface Inference {
  layout: TextLayout;
  /** Whether the sample starts with a header line that names columns. */
  header: string[] | null;
  /** 0–1: share of sample lines that fit, times the odds of each choice that was open. */
  confidence: number;
  fits: number;
  lines: number;
  /** The choices in words. */
  words: string;
}

/** Inferred, or a sentence saying what is missing. */
export type InferenceResult = Inference | { missing: string };

/** Fewest share of sample lines that must fit. */
const ENOUGH = 0.6;

/** `lines` are whole lines without line ends, in order; a few hundred are enough. */
export function inferLayout(lines: readonly string[]): InferenceResult {
  const wanted = lines.filter((line) => line.trim() !== '' && !line.trimStart().startsWith('#'));
  if (wanted.length === 0) return { missing: 'it holds no line of text' };
  let best: Inference | null = null;
  let reason = '';
  for (const separator of [',', ';', '\t', ' '] as const) {
    const found = inferWith(separator, wanted);
    if ('missing' in found) {
      if (found.missing.length > reason.length) reason = found.missing;
    } else if (best === null || found.fits / found.lines > best.fits / best.lines + 0.02) best = found;
  }
  if (best && best.fits >= ENOUGH * best.lines) return best;
  if (best)
    return {
      missing: `only ${best.fits} of ${best.lines} sample lines fit the columns ${columnsText(best.layout.columns)}`,
    };
  return { missing: reason || 'no line holds an identifier and a payload' };
}

interface Choice<T> {
  value: T;
  odds: number;
}

const HEADER_WORDS: [RegExp, Column['kind']][] = [
  [
    /^(abs|rel)?_?(time|t|ts|timestamp|time_?stamp|seconds|sec)(_?\(?\[?(s|sec|seconds|ms|us|µs|ns)\)?\]?)?$/,
    'time',
  ],
  [/^(bus|channel|chan|ch|interface|iface|network|bus_?(id|no|number))$/, 'bus'],
  [/^((can|msg|message|frame|arbitration)?[_ ]?(id|identifier)|ident|identifier)(_?\(?(hex|dec)\)?)?$/, 'id'],
  [/^(ext|extended|is_?extended(_?id)?|ide|xtd|eff)$/, 'ext'],
  [/^(len|length|dlc|size|data_?len(gth)?|bytes|count)$/, 'length'],
  [/^(data|payload|data_?bytes|bytes|data_?\(?hex\)?)$/, 'data'],
  [/^flags$/, 'flags'],
];
const BYTE_HEADER = /^(d|b|db|data|byte|data_?byte)[_ ]?\[?\(?\d{1,2}\)?\]?$/;
const HEX = /^(0x)?[0-9a-f]+$/i;

function inferWith(separator: TextLayout['separator'], lines: readonly string[]): InferenceResult {
  const rowsAll = lines.map((line) => tokens(line, separator));
  let header: string[] | null = null;
  const headAt = rowsAll.findIndex((row) => row.length > 1 && row.some(isValue));
  for (let i = 0; i < (headAt < 0 ? rowsAll.length : headAt); i++) {
    const row = rowsAll[i] as string[];
    if (row.length > 1 && row.some((t) => kindOfHeader(t) !== null)) header = row.map((t) => t.toLowerCase());
  }
  const rows = (headAt < 0 ? [] : rowsAll.slice(headAt)).filter((row) => row.length > 1);
  if (rows.length === 0)
    return {
      missing: header ? 'there is a header line but no line after it' : 'no line holds more than one column',
    };
  const width = rows.map((r) => r.length).sort((a, b) => a - b)[rows.length >> 4] as number;
  const constant = rows.every((r) => r.length === width);
  const column = (c: number) => rows.map((r) => r[c] ?? '');
  const share = (c: number, ok: (t: string) => boolean) =>
    rows.filter((r) => ok(r[c] ?? '')).length / rows.length;
  const named = (kind: Column['kind']) => (header ? header.findIndex((t) => kindOfHeader(t) === kind) : -1);

  const columns: Column[] = Array.from({ length: width }, () => ({ kind: 'ignored' }) as Column);
  const free = (c: number) => columns[c]?.kind === 'ignored';
  let odds = 1;

  let joined = -1;
  for (let c = 0; c < width && joined < 0; c++) {
    if (share(c, (t) => /^(0x)?[0-9a-f]{1,8}#([0-9a-f]{2}){0,64}$/i.test(t)) >= 0.7) joined = c;
  }
  if (joined >= 0) columns[joined] = { kind: 'joined' };

  const time = findTime(column, width, named('time'), header, rows);
  if (time) {
    for (const [c, value] of time.value) columns[c] = value;
    odds *= time.odds;
  }

  let idAt = joined;
  let idBase: 10 | 16 = 16;
  if (joined < 0) {
    idAt = named('id');
    if (idAt < 0) idAt = findId(column, width, free, share);
    if (idAt < 0) {
      return {
        missing: header
          ? `the columns ${header.join(', ')} name no identifier, and none holds values like one`
          : 'no column holds values like an identifier',
      };
    }
    const base = baseOfIds(column(idAt), header?.[idAt] ?? '');
    if (base === null)
      return { missing: `the column ${header?.[idAt] ?? idAt + 1} holds values that are no identifiers` };
    idBase = base.value;
    odds *= base.odds;
    columns[idAt] = { kind: 'id', base: idBase };
    const payload = findPayload(rows, width, constant, idAt, free, share, header);
    if (payload === null) {
      return {
        missing: header
          ? `the columns ${header.join(', ')} hold no payload in hex or in bytes`
          : 'no column holds a payload in hex or in bytes',
      };
    }
    odds *= payload.odds;
    if (payload.value.lengthAt >= 0) columns[payload.value.lengthAt] = { kind: 'length' };
    if (payload.value.column.kind === 'bytes')
      columns.length = Math.min(columns.length, payload.value.at + 1);
    columns[payload.value.at] = payload.value.column;
    if (payload.value.behind > 0) {
      for (let k = 0; k < payload.value.behind; k++) columns.push({ kind: 'ignored' });
    }
    if (!time && payload.value.behind > 0) {
      const tail = findTime(
        (c) => rows.map((r) => r[r.length - payload.value.behind + c] ?? ''),
        payload.value.behind,
        -1,
        null,
        rows,
      );
      if (tail) {
        for (const [c, value] of tail.value) columns[payload.value.at + 1 + c] = value;
        odds *= tail.odds;
      }
    }
  }
  if (!columns.some((c) => c.kind === 'time')) {
    return {
      missing: header
        ? `the columns ${header.join(', ')} name no time, and none rises like one`
        : 'no column rises like time',
    };
  }

  const idTokens = column(idAt).map((t) => (joined < 0 ? t : t.slice(0, t.indexOf('#'))));
  const idValues = idTokens.map((t) => Number.parseInt(t.replace(/^0x/i, ''), idBase));
  let extAt = named('ext');
  if (extAt < 0) {
    extAt = columns.findIndex(
      (_, c) =>
        free(c) &&
        !header &&
        idValues.some((v) => v > 0x7ff) &&
        column(c).every(
          (t, i) => (t === '0' || t === '1') && (idValues[i] as number) > 0x7ff === (t === '1'),
        ),
    );
  }
  if (extAt >= 0 && extAt < columns.length && free(extAt)) columns[extAt] = { kind: 'ext' };
  else extAt = -1;
  const flagsAt = named('flags');
  if (flagsAt >= 0 && flagsAt < columns.length && free(flagsAt)) columns[flagsAt] = { kind: 'flags' };
  const lengthAt = named('length');
  const dataAt = columns.findIndex((c) => c.kind === 'data' || c.kind === 'joined');
  const bytesOf = (t: string) =>
    (t.includes('#') ? t.length - t.indexOf('#') - 1 : t.replace(/^0x/i, '').length) / 2;
  const isLength = (c: number) =>
    dataAt >= 0 &&
    rows.filter((r) => Number((r[c] ?? '').replace(/\D/g, '')) === bytesOf(r[dataAt] ?? '')).length >=
      0.9 * rows.length;
  for (let c = 0; c < columns.length && !columns.some((k) => k.kind === 'length'); c++) {
    if (
      free(c) &&
      (c === lengthAt ||
        (lengthAt < 0 && c < dataAt && share(c, (t) => /^\d{1,2}$/.test(t)) >= 0.9 && isLength(c)))
    ) {
      columns[c] = { kind: 'length' };
    }
  }
  let busAt = named('bus');
  if (busAt < 0 && !header) {
    const isBus = (c: number) =>
      free(c) &&
      new Set(column(c)).size <= 16 &&
      (share(c, (t) => /^\d{1,3}$/.test(t) && Number(t) < 256) >= 0.9 ||
        share(c, (t) => /^[a-z]+[a-z_-]*\d{1,3}$/i.test(t)) >= 0.9);
    busAt = columns.findIndex((_, c) => isBus(c) && column(c).some((t) => /[a-z]/i.test(t)));
    if (busAt < 0) busAt = columns.findIndex((_, c) => isBus(c));
  }
  if (busAt >= 0 && busAt < columns.length && free(busAt)) columns[busAt] = { kind: 'bus' };

  const eight = idTokens.filter((t) => t.replace(/^0x/i, '').length >= 8).length;
  const layout: TextLayout = {
    separator,
    columns,
    extendedBy:
      extAt >= 0
        ? 'column'
        : idBase === 16 && eight > 0 && (eight < rows.length || idValues.every((v) => v > 0x7ff))
          ? 'digits'
          : 'value',
  };
  while (columns.at(-1)?.kind === 'ignored') columns.pop();
  const fits = countFits(lines.slice(headAt), layout);
  const tried = rowsAll.length - headAt;
  return {
    layout,
    header,
    confidence: (odds * fits) / tried,
    fits,
    lines: tried,
    words: describe(layout, header !== null),
  };
}

function tokens(line: string, separator: string): string[] {
  const parts = separator === ' ' ? line.trim().split(/\s+/) : line.split(separator);
  return parts.map((part) => part.trim().replace(/^["'([]+|["')\]]+$/g, ''));
}

/** Whether a token is a value rather than a word: a number, a clock time, a joined frame. */
function isValue(token: string): boolean {
  return (
    /[0-9]/.test(token) &&
    /^[-+]?(0x)?[0-9a-f.,:#TZ-]+$/i.test(token) &&
    !BYTE_HEADER.test(token.toLowerCase())
  );
}

function kindOfHeader(word: string): Column['kind'] | null {
  const plain = word.trim().toLowerCase();
  if (BYTE_HEADER.test(plain)) return 'bytes';
  return HEADER_WORDS.find(([pattern]) => pattern.test(plain))?.[1] ?? null;
}

/** The time column: named, or the one that rises most steadily; number, clock, or day and clock. */
function findTime(
  column: (c: number) => string[],
  width: number,
  named: number,
  header: string[] | null,
  rows: string[][],
): Choice<[number, Column][]> | null {
  const most = (texts: string[], pattern: RegExp) =>
    texts.filter((t) => pattern.test(t)).length >= 0.9 * texts.length;
  const order = named >= 0 ? [named] : Array.from({ length: width }, (_, c) => c);
  let best: { c: number; score: number } | null = null;
  for (const c of order) {
    const texts = column(c);
    if (most(texts, /^\d{4}[-/.]\d\d[-/.]\d\d[T ]\d\d:\d\d:\d\d([.,]\d+)?Z?$/i)) {
      return { value: [[c, { kind: 'time', form: 'date', unit: 's' }]], odds: 1 };
    }
    if (most(texts, /^\d{1,2}:\d\d:\d\d([.,]\d+)?$/)) {
      const value: [number, Column][] = [[c, { kind: 'time', form: 'clock', unit: 's' }]];
      const before = c > 0 ? column(c - 1) : [];
      if (c > 0 && most(before, /^\d{4}[-/.]\d\d[-/.]\d\d$/)) value.unshift([c - 1, { kind: 'day' }]);
      return { value, odds: 1 };
    }
    if (!most(texts, /^[-+]?\d+([.,]\d*)?(e[-+]?\d+)?$/i)) continue;
    const values = texts.map((t) => Number(t.replace(',', '.')));
    let rises = 0;
    let falls = 0;
    let steps = 0;
    for (let i = 1; i < values.length; i++) {
      const step = (values[i] as number) - (values[i - 1] as number);
      if (step > 0) rises++;
      if (step < 0) falls++;
      if (step === 1) steps++;
    }
    const pairs = Math.max(1, values.length - 1);
    const point = texts.some((t) => /[.,]/.test(t));
    const counting = steps === values.length - 1 && !point;
    const named1 = c === named;
    if (!named1 && (falls > 0.1 * pairs || (values.length > 1 && rises === 0))) continue;
    if (!named1 && values.length === 1 && !point) continue;
    const score =
      rises / pairs - falls / pairs + (point ? 1 : 0) - (counting ? 1.5 : 0) - c * 0.01 + (named1 ? 10 : 0);
    if (!named1 && score < 0) continue;
    if (best === null || score > best.score) best = { c, score };
  }
  if (best === null) return null;
  const unit = unitOf(column(best.c), header?.[best.c] ?? '', rows.length);
  return { value: [[best.c, { kind: 'time', form: 'number', unit: unit.value }]], odds: unit.odds };
}

/**
 * The unit of plain numbers: from the header; from the size, if they count from 1970; else the unit in which the frame
 * rate is the most usual for a bus. One bus carries at most 1e6 / 47 frames a second at 1 Mbit/s (47 bits is the shortest
 * frame of ISO 11898-1); a few hundred to some thousand are usual (from memory).
 */
function unitOf(texts: string[], header: string, count: number): Choice<TimeUnit> {
  const named = /[_ ([]?(ms|us|µs|ns|s|sec|seconds)[)\]]?$/.exec(
    header.replace(/^(time|t|ts|timestamp|seconds|sec)/, ''),
  )?.[1];
  if (named)
    return { value: named === 'µs' ? 'us' : named.startsWith('s') ? 's' : (named as TimeUnit), odds: 1 };
  const values = texts.map((t) => Number(t.replace(',', '.'))).filter((v) => Number.isFinite(v));
  const units: [TimeUnit, number][] = [
    ['s', 1],
    ['ms', 1e3],
    ['us', 1e6],
    ['ns', 1e9],
  ];
  const first = values[0] ?? 0;
  for (const [unit, scale] of units)
    if (first >= 1e9 * scale && first < 4e9 * scale) return { value: unit, odds: 1 };
  const span = Math.max(...values) - Math.min(...values);
  const decimals = Math.max(...texts.map((t) => (/[.,](\d*)/.exec(t)?.[1] ?? '').length));
  if (!(span > 0)) return { value: 's', odds: decimals >= 3 ? 0.9 : 0.5 };
  const weights = units.map(([unit, scale]) => {
    const rate = (count / span) * scale;
    const likely = Math.exp(-0.5 * (Math.log10(rate / 1000) / 1.2) ** 2);
    const prior =
      decimals >= 3
        ? unit === 's'
          ? 1
          : 0.02
        : decimals > 0
          ? unit === 's'
            ? 1
            : 0.2
          : unit === 's'
            ? 0.1
            : 1;
    return likely * prior;
  });
  const best = weights.indexOf(Math.max(...weights));
  return {
    value: (units[best] as [TimeUnit, number])[0],
    odds: (weights[best] as number) / weights.reduce((a, b) => a + b, 0),
  };
}

/** The leftmost column whose values look most like identifiers: 3 or 8 hex digits, 0x, several different ones. */
function findId(
  column: (c: number) => string[],
  width: number,
  free: (c: number) => boolean,
  share: (c: number, ok: (t: string) => boolean) => number,
): number {
  let best = -1;
  let bestScore = 1;
  for (let c = 0; c < width; c++) {
    if (!free(c)) continue;
    const fits = share(c, (t) => HEX.test(t) && t.replace(/^0x/i, '').length <= 10);
    if (fits < 0.9) continue;
    const typical = share(
      c,
      (t) => /^0x[0-9a-f]{1,8}$/i.test(t) || /^([0-9a-f]{3}|[0-9a-f]{8}|\d{4,10})$/i.test(t),
    );
    const distinct = new Set(column(c)).size;
    const score = fits + 2 * typical + (distinct > 1 ? 0.5 : 0) - 0.1 * c;
    if (typical > 0.5 && score > bestScore) {
      best = c;
      bestScore = score;
    }
  }
  return best;
}

/** Hex unless the digits speak against it; null where a value cannot be an identifier at all. */
function baseOfIds(texts: string[], header: string): Choice<10 | 16> | null {
  const ids = [...new Set(texts)].filter((t) => t !== '');
  if (ids.filter((t) => HEX.test(t)).length < 0.9 * ids.length) return null;
  if (/hex/.test(header) || ids.some((t) => /^0x/i.test(t) || /[a-f]/i.test(t)))
    return { value: 16, odds: 1 };
  if (/dec/.test(header) || ids.some((t) => t.length > 8)) return { value: 10, odds: 1 };
  if (ids.some((t) => t.length > 1 && t.startsWith('0'))) return { value: 16, odds: 0.99 };
  // Of hex identifiers about half hold a letter (from memory: many are round numbers), so n without one speak 2^n : 1 for decimal.
  const lengths = new Set(ids.map((t) => t.length));
  const fixed = lengths.size === 1 && (lengths.has(3) || lengths.has(8));
  const ratio = (fixed ? 0.05 : 4) * 2 ** Math.min(ids.length, 40);
  return ratio > 1 ? { value: 10, odds: ratio / (1 + ratio) } : { value: 16, odds: 1 / (1 + ratio) };
}

interface PayloadPlace {
  at: number;
  column: Column;
  lengthAt: number;
  /** Columns behind separate bytes. */
  behind: number;
}

function findPayload(
  rows: string[][],
  width: number,
  constant: boolean,
  idAt: number,
  free: (c: number) => boolean,
  share: (c: number, ok: (t: string) => boolean) => number,
  header: string[] | null,
): Choice<PayloadPlace> | null {
  const byteStart = header ? header.findIndex((t) => BYTE_HEADER.test(t)) : -1;
  const named = header ? header.findIndex((t) => kindOfHeader(t) === 'data') : -1;
  if (byteStart < 0) {
    const string = /^(0x)?([0-9a-f]{2})*$/i;
    let best = -1;
    let bestMean = 2;
    for (let c = 0; c < width; c++) {
      if (!free(c) || c === idAt || (named >= 0 && c !== named)) continue;
      if (share(c, (t) => string.test(t)) < 0.9) continue;
      const mean = rows.reduce((sum, r) => sum + (r[c] ?? '').length, 0) / rows.length;
      const longEnough =
        c === named ? Math.max(...rows.map((r) => (r[c] ?? '').length)) > 2 || constant : mean > bestMean;
      if (longEnough && !(header && named < 0 && mean < 4)) {
        best = c;
        bestMean = mean;
      }
    }
    // In a run of separate bytes every column is two digits; a joined payload is longer somewhere.
    if (best >= 0) return { value: { at: best, column: { kind: 'data' }, lengthAt: -1, behind: 0 }, odds: 1 };
  }
  const isByte = (t: string) => /^(0x)?[0-9a-f]{1,2}$/i.test(t) || (/^\d{3}$/.test(t) && Number(t) < 256);
  const starts =
    byteStart >= 0
      ? [byteStart]
      : named >= 0
        ? [named]
        : Array.from({ length: width - idAt }, (_, k) => idAt + 1 + k);
  const lengthNamed = header ? header.findIndex((t) => kindOfHeader(t) === 'length') : -1;
  let fallback: Choice<PayloadPlace> | null = null;
  for (const at of starts) {
    if (at < width && !free(at)) continue;
    for (let behind = 0; behind <= 3; behind++) {
      const runs = rows.map((r) => r.slice(at, r.length - behind));
      for (let c = at - 1; c >= 0; c--) {
        if (!free(c) || c === idAt || (lengthNamed >= 0 && c !== lengthNamed)) continue;
        const fit = rows.filter((r, i) => {
          const run = runs[i] as string[];
          const stated = /^\d{1,2}$/.test(r[c] ?? '') ? Number(r[c]) : -1;
          return (
            stated >= 0 &&
            stated <= run.length &&
            run.slice(0, stated).every(isByte) &&
            (constant || stated === run.length)
          );
        }).length;
        const used = rows.map((r) => Number(r[c]));
        if (fit >= 0.9 * rows.length && Math.max(...used) > 0) {
          const base = baseOfBytes(runs.map((run, i) => run.slice(0, used[i])));
          const fields = constant && separated(rows, at) ? width - at - behind : 0;
          return {
            value: {
              at,
              column: { kind: 'bytes', base: base.value, fields },
              lengthAt: c,
              behind: constant && fields === 0 && behind > 0 ? 0 : behind,
            },
            odds: base.odds,
          };
        }
      }
      if (fallback || behind > 0) continue;
      const whole = runs.filter(
        (run) => run.length <= 64 && run.every((t) => isByte(t) || (constant && t === '')),
      ).length;
      const longest = Math.max(...runs.map((run) => run.length));
      if (whole >= 0.9 * rows.length && longest > 0 && (longest <= 8 || longest % 4 === 0)) {
        const base = baseOfBytes(runs);
        const fields = byteStart >= 0 && header ? header.filter((t) => BYTE_HEADER.test(t)).length : 0;
        fallback = {
          value: { at, column: { kind: 'bytes', base: base.value, fields }, lengthAt: -1, behind: 0 },
          odds: 0.95 * base.odds,
        };
      }
    }
  }
  return fallback;
}

/** Whether some row leaves a byte field empty, so that the fields behind it keep their place. */
function separated(rows: string[][], at: number): boolean {
  return rows.some((r) => r.slice(at).some((t) => t === ''));
}

function baseOfBytes(runs: string[][]): Choice<10 | 16> {
  const texts = runs.flat().filter((t) => t !== '');
  if (texts.some((t) => /[a-fx]/i.test(t))) return { value: 16, odds: 1 };
  if (texts.some((t) => t.length === 3)) return { value: 10, odds: 1 };
  if (texts.some((t) => t.length === 1) && texts.some((t) => t.length === 2)) return { value: 10, odds: 0.9 };
  // Ten sixteenths of random nibbles show no letter.
  const ratio = (10 / 16) ** Math.min(200, new Set(texts).size);
  return { value: 16, odds: 1 / (1 + 0.1 * (1 - ratio)) };
}

function countFits(lines: readonly string[], layout: TextLayout): number {
  const frame: LineFrame = {
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
  const parse = lineParser(layout, frame, { number: () => 0 });
  const encoder = new TextEncoder();
  return lines.filter((line) => {
    const bytes = encoder.encode(line);
    return parse(bytes, 0, bytes.length) === LINE.frame;
  }).length;
}

function describe(layout: TextLayout, header: boolean): string {
  const by = { ',': 'commas', ';': 'semicolons', '\t': 'tabs', ' ': 'blanks' }[layout.separator];
  const ext = { column: 'its own column', digits: 'eight digits', value: 'a value above 7FF' }[
    layout.extendedBy
  ];
  return `text with ${by} between columns${header ? ' and a header line' : ''}: ${columnsText(layout.columns)}; 29-bit by ${ext}`;
}
