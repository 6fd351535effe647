/** Works out which column of a table means what, from its header and from what stands in it. */
import { CELL_TESTS } from './cells.ts';
import { COLUMNS, type ColumnGuess, type Meaning, type Table, type TableProblem } from './model.ts';

export interface ColumnsRead {
  columns: ColumnGuess[];
  /** Headers of columns that hold something and were not understood: they are left out, and that is said. */
  unused: string[];
  /** Index into `table.rows` of the header, and of the first row below it. */
  header: number;
  problems: TableProblem[];
}

/** Below this a column is left out rather than guessed at. */
const LEAST = 0.5;

/** Words of the trade for each meaning, as `plain` spells them; the first fits best. */
const WORDS: Partial<Record<Meaning, readonly string[]>> = {
  bus: ['bus', 'network', 'channel', 'cluster'],
  message: ['message', 'messagename', 'msg', 'msgname', 'frame', 'framename', 'pdu', 'pduname', 'nachricht'],
  id: [
    'identifier',
    'id',
    'messageid',
    'msgid',
    'canid',
    'frameid',
    'arbitrationid',
    'hexid',
    'idhex',
    'iddec',
  ],
  extended: ['29bit', 'extended', 'extendedid', 'ext', 'ide', 'idformat', 'addressingmode'],
  messageLength: [
    'payloadbytes',
    'dlc',
    'messagelength',
    'msglength',
    'framelength',
    'payloadlength',
    'bytes',
    'messagesize',
  ],
  period: [
    'period',
    'cycletime',
    'cycle',
    'periodicity',
    'repetition',
    'interval',
    'transmissionrate',
    'sendcycle',
    'zykluszeit',
  ],
  sender: ['sender', 'transmitter', 'unit', 'ecu', 'node', 'source', 'sentby', 'txnode', 'producer'],
  messageNote: ['messagenote', 'messagecomment', 'messagedescription', 'msgcomment'],
  kind: ['kind', 'fieldkind', 'type', 'signaltype'],
  name: ['name', 'signal', 'signalname', 'field', 'fieldname', 'parameter', 'parametername', 'sig'],
  start: [
    'startbitautosar',
    'startbit',
    'start',
    'startposition',
    'bitposition',
    'position',
    'bitstart',
    'lsb',
    'msb',
    'firstbit',
    'startbitlsb',
    'startbitmsb',
    'bytebit',
    'bitoffset',
  ],
  startByte: ['startbyte', 'byte', 'bytepos', 'byteposition', 'byteoffset', 'firstbyte'],
  length: [
    'bits',
    'bitlength',
    'length',
    'size',
    'signallength',
    'signalsize',
    'numberofbits',
    'lengthbit',
    'sizebits',
    'width',
    'len',
    'bitlen',
    'bitsize',
  ],
  order: ['byteorder', 'endianness', 'endian', 'order', 'packingbyteorder', 'format'],
  signed: ['signed', 'sign', 'valuetype', 'datatype', 'signedness', 'type', 'rawtype'],
  scale: ['scale', 'factor', 'resolution', 'gain', 'slope', 'scaling', 'multiplier', 'lsbvalue'],
  offset: ['offset', 'bias', 'add', 'zero', 'intercept'],
  unit: ['unit', 'units', 'physicalunit', 'einheit'],
  min: ['min', 'minimum', 'physicalmin', 'minvalue', 'physmin', 'lowerlimit', 'rangemin', 'minphys'],
  max: ['max', 'maximum', 'physicalmax', 'maxvalue', 'physmax', 'upperlimit', 'rangemax', 'maxphys'],
  values: [
    'values',
    'valuetable',
    'enumeration',
    'enum',
    'states',
    'valuenames',
    'choices',
    'valuedescription',
    'coding',
  ],
  selectorValue: [
    'selectorvalue',
    'selector',
    'selectorcode',
    'selectorfieldcode',
    'multiplexvalue',
    'multiplexorvalue',
    'page',
  ],
  state: ['state'],
  note: ['note', 'comment', 'description', 'remark', 'remarks', 'notes', 'desc', 'bemerkung'],
};

/**
 * `named` are columns that a person named, by header, letter or 1-based number: they count with confidence 1. `none` as
 * a column says that the table has none of that meaning.
 */
export function readColumns(table: Table, named: ReadonlyMap<Meaning, string> = new Map()): ColumnsRead {
  const header = headerRow(table);
  const headers = (table.rows[header] ?? []).map((text) => text.trim());
  const body = table.rows.slice(header + 1);
  const columns: ColumnGuess[] = [];
  const problems: TableProblem[] = [];
  const takenMeanings = new Set<Meaning>();
  const takenColumns = new Set<number>();
  for (const [meaning, word] of named) {
    takenMeanings.add(meaning);
    if (word.trim().toLowerCase() === 'none') continue;
    const at = columnNamed(headers, word);
    if (at < 0) {
      const expected = `one of: ${headers.filter((h) => h !== '').join(', ')}; a letter, or a number from 1`;
      problems.push({
        row: table.numbers[header] ?? 0,
        column: '',
        found: `no column "${word}" for ${COLUMNS[meaning]}`,
        expected,
      });
      continue;
    }
    takenColumns.add(at);
    columns.push({ meaning, at, header: headers[at] as string, confidence: 1 });
  }
  const offers: ColumnGuess[] = [];
  for (const [at, text] of headers.entries()) {
    if (takenColumns.has(at) || text === '') continue;
    for (const meaning of Object.keys(COLUMNS) as Meaning[]) {
      const word = headerScore(text, meaning);
      if (takenMeanings.has(meaning) || word === 0) continue;
      const fits = contentScore(body, at, meaning);
      // A header of our own means what it says, also where a cell is wrong: the cell is told.
      const confidence = word === 1 ? 1 : word * (0.3 + 0.7 * fits);
      if (confidence >= LEAST) offers.push({ meaning, at, header: text, confidence });
    }
  }
  offers.sort((a, b) => b.confidence - a.confidence);
  for (const offer of offers) {
    if (takenColumns.has(offer.at) || takenMeanings.has(offer.meaning)) continue;
    takenColumns.add(offer.at);
    takenMeanings.add(offer.meaning);
    columns.push(offer);
  }
  const unused = headers.filter(
    (text, at) => !takenColumns.has(at) && body.some((row) => (row[at] ?? '').trim() !== '') && text !== '',
  );
  for (const at of bareColumns(headers, body)) unused.push(`column ${at + 1} (no header)`);
  const has = (meaning: Meaning) => columns.some((c) => c.meaning === meaning);
  const missing = (['id', 'start', 'length', 'name'] as const).filter(
    (meaning) => !has(meaning) && !(meaning === 'start' && has('startByte')),
  );
  if (missing.length > 0) {
    const found = `no column for ${missing.map((m) => COLUMNS[m]).join(', ')}${headers.length > 0 ? `; the headers are ${headers.filter((h) => h !== '').join(', ')}` : ''}`;
    const expected = `a row of headers; say which column it is, for example ${missing[0]}="${headers.find((h) => h !== '') ?? 'header'}"`;
    problems.push({ row: table.numbers[header] ?? 0, column: '', found, expected });
  }
  columns.sort((a, b) => a.at - b.at);
  return { columns, unused, header, problems };
}

/** "id=CAN ID,start=Bit" as a map; throws `RangeError` with a sentence where it is none. */
export function columnWords(text: string): Map<Meaning, string> {
  const named = new Map<Meaning, string>();
  for (const part of text.split(',')) {
    const at = part.indexOf('=');
    const key = part.slice(0, at).trim();
    if (at < 0 || !Object.hasOwn(COLUMNS, key))
      throw new RangeError(
        `"${part.trim()}" names no column; right would be meaning=header, with a meaning out of ${Object.keys(COLUMNS).join(', ')}`,
      );
    named.set(key as Meaning, part.slice(at + 1).trim());
  }
  return named;
}

/** Unit of a header such as "cycle time [s]": what stands in brackets, or a last word that is a unit of time. */
export function unitOfHeader(header: string): string {
  const inside = /[[(]\s*([^\])]*?)\s*[\])]/.exec(header)?.[1];
  return inside ?? /[\s_](ms|s|us|µs)$/i.exec(header.trim())?.[1]?.toLowerCase() ?? '';
}

/** The row among the first twenty in which most cells are headers that we know. */
function headerRow(table: Table): number {
  let best = 0;
  let most = 0;
  for (const [at, row] of table.rows.slice(0, 20).entries()) {
    const known = row.filter((cell) =>
      (Object.keys(COLUMNS) as Meaning[]).some((meaning) => headerScore(cell.trim(), meaning) > 0),
    ).length;
    if (known > most) [best, most] = [at, known];
  }
  return best;
}

function headerScore(header: string, meaning: Meaning): number {
  if (header.toLowerCase() === COLUMNS[meaning].toLowerCase()) return 1;
  const words = WORDS[meaning];
  if (words === undefined || header === '' || header.length > 80) return 0;
  const bare = plain(header.replace(/[[(][^\])]*[\])]/g, ' '));
  const whole = plain(header);
  const spots = [bare, whole, bare.replace(/(ms|s|us|µs|hex|dec)$/, '')].map((word) => words.indexOf(word));
  const exact = Math.min(...spots.filter((spot) => spot >= 0));
  if (Number.isFinite(exact)) return exact === 0 ? 0.98 : Math.max(0.8, 0.95 - 0.01 * exact);
  const loose = words.some((word) => word.length >= 5 && (bare.startsWith(word) || bare.endsWith(word)));
  return loose ? 0.65 : 0;
}

function contentScore(body: readonly string[][], at: number, meaning: Meaning): number {
  const test = CELL_TESTS[meaning];
  if (test === undefined) return 1;
  let [seen, fit] = [0, 0];
  for (const row of body.slice(0, 500)) {
    const text = (row[at] ?? '').trim();
    if (text === '') continue;
    seen++;
    if (test(text)) fit++;
  }
  return seen === 0 ? 0.5 : fit / seen;
}

function columnNamed(headers: readonly string[], word: string): number {
  const exact = headers.findIndex((h) => h.toLowerCase() === word.toLowerCase());
  if (exact >= 0) return exact;
  const near = headers.findIndex((h) => h !== '' && plain(h) === plain(word));
  if (near >= 0) return near;
  if (/^\d{1,3}$/.test(word))
    return Number(word) >= 1 && Number(word) <= headers.length ? Number(word) - 1 : -1;
  if (!/^[A-Z]{1,2}$/i.test(word)) return -1;
  const at = [...word.toUpperCase()].reduce((n, c) => 26 * n + c.charCodeAt(0) - 64, 0) - 1;
  return at < headers.length ? at : -1;
}

function bareColumns(headers: readonly string[], body: readonly string[][]): number[] {
  const widest = body.reduce((most, row) => Math.max(most, row.length), headers.length);
  return Array.from({ length: widest }, (_, at) => at).filter(
    (at) => (headers[at] ?? '') === '' && body.some((row) => (row[at] ?? '').trim() !== ''),
  );
}

function plain(text: string): string {
  return text.toLowerCase().replace(/[^\p{L}\p{N}]/gu, '');
}
