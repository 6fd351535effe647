/**
 * Works out what the columns of a text recording mean from a sample of its lines: the separator, a header line where
 * there is one, and for each column what its values allow. Every choice that could have gone another way lowers the confidence.
 */
import { type Column, columnsText, type TextLayout } from './columns.ts';
import { baseOfIds, digitsOf, extendedBy, findId, findJoined } from './inferId.ts';
import { findPayload } from './inferPayload.ts';
import { findTime, findTimeBehind } from './inferTime.ts';
import { emptyLineFrame, LINE, lineParser } from './lines.ts';
import { column, headed, MOST, MOST_COLUMNS, type Sample, sampleOf, share } from './sample.ts';

export interface Inference {
  layout: TextLayout;
  /** Whether a header line names columns. */
  header: 'header' | 'none';
  /** 0–1: share of sample lines that fit, times the odds of each choice that was open. */
  confidence: number;
  fits: number;
  lines: number;
  /** The choices in words. */
  words: string;
}

/** What keeps a text from being a recording, and how far the inference came before it. */
export interface NotInferred {
  missing: string;
  came: number;
}

/** Least share of sample lines that must fit. */
const ENOUGH = 0.6;

const TOO_WIDE: NotInferred = {
  missing: `its lines have ${MOST_COLUMNS} columns or more, which no recording of one frame a line has`,
  came: 9,
};

/** `lines` are whole lines without line ends, in order; a few hundred are enough. */
export function inferLayout(lines: readonly string[]): Inference | NotInferred {
  const wanted = lines.filter((line) => line.trim() !== '');
  let best: Inference | null = null;
  let closest: NotInferred = { missing: 'no line holds more than one column', came: 0 };
  for (const separator of [',', ';', '\t', ' '] as const) {
    const sample = sampleOf(wanted, separator);
    if (sample === null) continue;
    const found = sample.width < MOST_COLUMNS ? inferColumns(sample, wanted) : TOO_WIDE;
    if ('missing' in found) {
      if (found.came > closest.came) closest = found;
    } else if (best === null || found.fits / found.lines > best.fits / best.lines + 0.02) best = found;
  }
  if (best === null) return closest;
  if (best.fits >= ENOUGH * best.lines) return best;
  const columns = columnsText(best.layout.columns);
  return { missing: `only ${best.fits} of ${best.lines} sample lines fit the columns ${columns}`, came: 9 };
}

function inferColumns(sample: Sample, lines: readonly string[]): Inference | NotInferred {
  const { header } = sample;
  const headerText = header ? `the columns ${header.join(', ')}` : '';
  let columns: Column[] = Array.from({ length: sample.width }, () => ({ kind: 'ignored' }));
  const free = (c: number) => columns[c]?.kind === 'ignored';
  let odds = 1;

  const joined = findJoined(sample);
  if (joined >= 0) columns[joined] = { kind: 'joined' };
  let time = findTime(sample);
  for (const [c, value] of time?.value ?? []) columns[c] = value;
  let base: 10 | 16 = 16;
  let idAt = joined;
  if (joined < 0) {
    idAt = findId(sample, free);
    if (idAt < 0) {
      return {
        missing: header
          ? `${headerText} name no identifier, and none holds values like one`
          : 'no column holds identifiers',
        came: time ? 2 : 1,
      };
    }
    const idBase = baseOfIds(column(sample, idAt), header?.[idAt] ?? '');
    if (idBase === null) {
      return {
        missing: `column ${idAt + 1}${header ? ` (${header[idAt]})` : ''} holds values that are no identifiers`,
        came: 3,
      };
    }
    base = idBase.value;
    odds *= idBase.odds;
    columns[idAt] = { kind: 'id', base };
    const payload = findPayload(sample, idAt, free);
    if (payload === null) {
      return {
        missing: header ? `${headerText} hold no payload in hex or in bytes` : 'no column holds a payload',
        came: time ? 4 : 3,
      };
    }
    odds *= payload.odds;
    const { at, lengthAt, behind } = payload.value;
    if (lengthAt >= 0) columns[lengthAt] = { kind: 'length' };
    if (payload.value.column.kind === 'bytes') {
      columns = [...columns.slice(0, at), payload.value.column];
      for (let k = 0; k < behind; k++) columns.push({ kind: 'ignored' });
      if (time === null && behind > 0) {
        time = findTimeBehind(sample, behind);
        for (const [c, value] of time?.value ?? []) columns[at + 1 + c] = value;
      }
    } else columns[at] = payload.value.column;
  }
  if (time === null) {
    return {
      missing: header ? `${headerText} name no time, and none rises like one` : 'no column rises like time',
      came: 5,
    };
  }
  odds *= time.odds;

  const ids = column(sample, idAt).map((t) => t.split('#')[0] as string);
  placeExt(sample, columns, ids, base);
  placeLength(sample, columns);
  placeDirection(sample, columns);
  placeBus(sample, columns);
  const flagsAt = headed(sample, 'flags');
  if (free(flagsAt)) columns[flagsAt] = { kind: 'flags' };
  while (columns.at(-1)?.kind === 'ignored') columns.pop();

  const hasExt = columns.some((c) => c.kind === 'ext');
  const layout: TextLayout = {
    separator: sample.separator,
    columns,
    extendedBy: hasExt ? 'column' : extendedBy(ids, base),
  };
  const counted = countFits(lines.slice(sample.start), layout);
  return {
    layout,
    header: header ? 'header' : 'none',
    confidence: (odds * counted.fits) / counted.lines,
    ...counted,
    words: layoutWords(layout, header ? ' and a header line' : ''),
  };
}

/** Whether column `c` has no meaning yet and stands at the same place in all rows: not behind separate bytes. */
function isFree(columns: readonly Column[], c: number): boolean {
  const bytes = columns.findIndex((column) => column.kind === 'bytes');
  return columns[c]?.kind === 'ignored' && (bytes < 0 || c < bytes);
}

/** A column of 0 and 1 that agrees with the identifiers, or the one that the header calls so. */
function placeExt(sample: Sample, columns: Column[], ids: readonly string[], base: 10 | 16): void {
  let at = headed(sample, 'ext');
  if (at < 0 && sample.header === null) {
    const big = ids.map((t) => Number.parseInt(digitsOf(t), base) > 0x7ff);
    at = columns.findIndex((_, c) => {
      const agree = column(sample, c).map((t, i) => (big[i] ? t === '1' : t === '0'));
      // A column of zeros agrees with all base identifiers: it takes an extended one to tell.
      const tells = agree.some((ok, i) => ok && big[i]);
      return isFree(columns, c) && tells && agree.filter(Boolean).length >= MOST * big.length;
    });
  }
  if (columns[at]?.kind === 'ignored') columns[at] = { kind: 'ext' };
}

/** The number of bytes of a payload that stands in one column. */
function placeLength(sample: Sample, columns: Column[]): void {
  if (columns.some((c) => c.kind === 'length')) return;
  const dataAt = columns.findIndex((c) => c.kind === 'data' || c.kind === 'joined');
  if (dataAt < 0) return;
  const bytesIn = (token: string): number => {
    const data = digitsOf(token.split('#').at(-1) as string);
    return /[ :._-]/.test(data) ? data.split(/[ :._-]+/).length : data.length / 2;
  };
  const named = headed(sample, 'length');
  const at = columns.findIndex(
    (col, c) =>
      col.kind === 'ignored' &&
      (c === named ||
        (sample.header === null &&
          c < dataAt &&
          sample.rows.filter((r) => /^\d{1,2}$/.test(r[c] ?? '') && Number(r[c]) === bytesIn(r[dataAt] ?? ''))
            .length >=
            MOST * sample.rows.length)),
  );
  if (at >= 0) columns[at] = { kind: 'length' };
}

const DIRECTION = /^(rx|tx|in|out|received|sent|receive|transmit)$/i;

function placeDirection(sample: Sample, columns: Column[]): void {
  let at = headed(sample, 'direction');
  if (at < 0)
    at = columns.findIndex(
      (_, c) => isFree(columns, c) && share(sample, c, (t) => DIRECTION.test(t)) >= MOST,
    );
  if (columns[at]?.kind === 'ignored') columns[at] = { kind: 'direction' };
}

/** The column that the header calls so; without a header an interface name, else a small number, else one of few words. */
function placeBus(sample: Sample, columns: Column[]): void {
  let at = headed(sample, 'bus');
  if (at < 0 && sample.header === null) {
    // A bus comes back often; a column of ever new numbers counts lines.
    const most = Math.max(1, Math.min(16, sample.rows.length / 2));
    const few = (c: number) => isFree(columns, c) && new Set(column(sample, c)).size <= most;
    const find = (pattern: RegExp) =>
      columns.findIndex((_, c) => few(c) && share(sample, c, (t) => pattern.test(t)) >= MOST);
    at = find(/^[a-z][a-z_-]*\d{1,3}$/i);
    if (at < 0) at = find(/^([01]?\d?\d|2[0-4]\d|25[0-5])$/);
    if (at < 0) {
      at = find(/^[a-z][a-z0-9_-]{2,}$/i);
      if (at >= 0 && new Set(column(sample, at)).size < 2) at = -1;
    }
  }
  if (columns[at]?.kind === 'ignored') columns[at] = { kind: 'bus' };
}

/** How many lines give a frame, of those that are no comment. */
function countFits(lines: readonly string[], layout: TextLayout): { fits: number; lines: number } {
  const parse = lineParser(layout, emptyLineFrame(), { number: () => 0 });
  const encoder = new TextEncoder();
  const codes = lines.map((line) => {
    const bytes = encoder.encode(line);
    return parse(bytes, 0, bytes.length);
  });
  return {
    fits: codes.filter((code) => code === LINE.frame).length,
    lines: codes.filter((code) => code !== LINE.comment).length,
  };
}

/** "text with commas between columns: time:s,bus,id:hex,ext,data; 29-bit by its own column" */
export function layoutWords(layout: TextLayout, behind = ''): string {
  const by = { ',': 'commas', ';': 'semicolons', '\t': 'tabs', ' ': 'blanks' }[layout.separator];
  const ext = { column: 'its own column', digits: 'eight digits', value: 'a value above 7FF' }[
    layout.extendedBy
  ];
  return `text with ${by} between columns${behind}: ${columnsText(layout.columns)}; 29-bit by ${ext}`;
}
