/**
 * Writes the cache's own Parquet: columns as `docs/forms.md` says, uncompressed and laid out as they lie in memory, so that opening
 * is little more than reading. Any Parquet reader takes it; ours (`plainRead.ts`) goes by the places that the writer gives.
 */
import { FLAG } from '../../can/frame.ts';
import { storedLength } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import { deltaBytes } from './delta.ts';
import { type PlainGroup, type PlainLayout, placesOf, type SmallColumn, sumOf } from './plainLayout.ts';
import { type Field, structBytes, varint } from './thrift.ts';

/** Rows of a group: one is looked at while the next is read. */
const GROUP_ROWS = 1 << 19;

/** The file piece by piece; its return value says where everything lies. */
export function* writePlain(
  capture: Capture,
  groupRows = GROUP_ROWS,
): Generator<Uint8Array, PlainLayout, undefined> {
  const groups: PlainGroup[] = [];
  const notes: Field[][] = [];
  let at = 0;
  for (let row = 0; row < capture.count; row += groupRows) {
    const rows = Math.min(groupRows, capture.count - row);
    const { parts, group, chunks } = groupOf(capture, row, rows, at);
    yield* parts;
    at += parts.reduce((total, part) => total + part.length, 0);
    groups.push(group);
    const size = chunks.reduce((total, chunk) => total + chunk.size, 0);
    const columns = chunks.map(({ start, meta }): Field[] => [
      [2, 'i64', start],
      [3, 'struct', meta],
    ]);
    notes.push([
      [1, 'list', 'struct', columns],
      [2, 'i64', size],
      [3, 'i64', rows],
    ]);
  }
  const footer = structBytes(fileNotes(capture, notes));
  const end = Buffer.concat([footer, u32(footer.length), MAGIC]);
  yield end;
  return { groups, bytes: at + end.length };
}

const MAGIC = Buffer.from('PAR1');

/** Physical types, converted types, encodings and page types of the Parquet format. */
const PHYSICAL = { int32: 1, double: 5, bytes: 6 } as const;
const CONVERTED = { uint8: 11, uint32: 13 } as const;
const ENCODING = { plain: 0, rle: 3, dictionary: 8, deltaLength: 6 } as const;
const PAGE = { data: 0, dictionary: 2 } as const;

const COLUMNS = [
  { name: 't', physical: PHYSICAL.double },
  { name: 'bus', physical: PHYSICAL.int32, converted: CONVERTED.uint8 },
  { name: 'id', physical: PHYSICAL.int32, converted: CONVERTED.uint32 },
  { name: 'ext', physical: PHYSICAL.int32, converted: CONVERTED.uint8 },
  { name: 'flags', physical: PHYSICAL.int32, converted: CONVERTED.uint8 },
  { name: 'length', physical: PHYSICAL.int32, converted: CONVERTED.uint8 },
  { name: 'data', physical: PHYSICAL.bytes },
] as const;

interface ColumnChunk {
  start: number;
  size: number;
  meta: Field[];
}

function groupOf(capture: Capture, row: number, rows: number, from: number) {
  const parts: Uint8Array[] = [];
  let at = from;
  const put = (bytes: Uint8Array) => {
    parts.push(bytes);
    at += bytes.length;
  };
  if (from === 0) put(MAGIC);
  const places: Record<string, SmallColumn> = {};
  const bodies = new Map<number, Uint8Array>();
  let dataBytes = 0;
  const chunks = COLUMNS.map(({ name, physical }): ColumnChunk => {
    const start = at;
    const small = physical === PHYSICAL.int32 && name !== 'id';
    if (small) for (const part of DICTIONARY_PAGE) put(part);
    const page = at;
    const { head, body, all } = small
      ? indexed(smallValues(capture, name, row, rows))
      : name === 'data'
        ? payloads(capture, row, rows)
        : { head: NOTHING, body: wideValues(capture, name, row, rows) };
    const encoding = small ? ENCODING.dictionary : name === 'data' ? ENCODING.deltaLength : ENCODING.plain;
    put(
      pageHeader(PAGE.data, head.length + body.length, [
        5,
        'struct',
        [
          [1, 'i32', rows],
          [2, 'i32', encoding],
          [3, 'i32', ENCODING.rle],
          [4, 'i32', ENCODING.rle],
        ],
      ]),
    );
    put(head);
    places[name] = all === undefined ? at : { all };
    if (name === 'data') dataBytes = body.length;
    bodies.set(at, body);
    put(body);
    const meta: Field[] = [
      [1, 'i32', physical],
      [2, 'list', 'i32', small ? [ENCODING.plain, ENCODING.dictionary] : [encoding]],
      [3, 'list', 'binary', [name]],
      [4, 'i32', 0],
      [5, 'i64', rows],
      [6, 'i64', at - start],
      [7, 'i64', at - start],
      [9, 'i64', page],
      ...(small ? [[11, 'i64', start] satisfies Field] : []),
    ];
    return { start, size: at - start, meta };
  });
  const { t, bus, id, flags, length, data } = places as unknown as Omit<
    PlainGroup,
    'rows' | 'dataBytes' | 'sum'
  >;
  const group: PlainGroup = { rows, t, bus, id, flags, length, data, dataBytes, sum: '' };
  group.sum = sumOf(
    placesOf(group).map((place) => (bodies.get(place.at) as Uint8Array).subarray(0, place.bytes)),
  );
  return { parts, group, chunks };
}

const NOTHING = new Uint8Array(0);

function pageHeader(type: number, size: number, kind: Field): Uint8Array {
  return structBytes([[1, 'i32', type], [2, 'i32', size], [3, 'i32', size], kind]);
}

/** A dictionary of all bytes: the indices into it are then the bytes themselves. */
const DICTIONARY_PAGE = [
  pageHeader(PAGE.dictionary, 1024, [
    7,
    'struct',
    [
      [1, 'i32', 256],
      [2, 'i32', ENCODING.plain],
    ],
  ]),
  Buffer.concat(Array.from({ length: 256 }, (_, value) => u32(value))),
];

/** Indices of eight bits: one run of whole groups of eight, packed, or one run of a value that all have. */
function indexed(values: Uint8Array): { head: Uint8Array; body: Uint8Array; all?: number } {
  const first = values[0] as number;
  const head = [8];
  if (values.every((value) => value === first)) {
    varint(head, 2 * values.length);
    return { head: Uint8Array.from([...head, first]), body: NOTHING, all: first };
  }
  const groups = Math.ceil(values.length / 8);
  varint(head, 2 * groups + 1);
  const body = new Uint8Array(8 * groups);
  body.set(values);
  return { head: Uint8Array.from(head), body };
}

function smallValues(capture: Capture, name: string, row: number, rows: number): Uint8Array {
  if (name === 'ext') return capture.flags.subarray(row, row + rows).map((flags) => flags & FLAG.extended);
  const column = { bus: capture.bus, flags: capture.flags, length: capture.length }[name] as Uint8Array;
  return column.subarray(row, row + rows);
}

function wideValues(capture: Capture, name: string, row: number, rows: number): Uint8Array {
  const { buffer, byteOffset, BYTES_PER_ELEMENT } = name === 't' ? capture.time : capture.id;
  return new Uint8Array(buffer, byteOffset + row * BYTES_PER_ELEMENT, rows * BYTES_PER_ELEMENT);
}

/** All lengths, then all payloads end to end. */
function payloads(
  capture: Capture,
  row: number,
  rows: number,
): { head: Uint8Array; body: Uint8Array; all?: undefined } {
  const lengths = new Uint8Array(rows);
  let size = 0;
  let isEndToEnd = true;
  const first = capture.offset[row] as number;
  for (let i = 0; i < rows; i++) {
    isEndToEnd &&= capture.offset[row + i] === first + size;
    size += lengths[i] = storedLength(capture, row + i);
  }
  return {
    head: deltaBytes(lengths),
    body: isEndToEnd ? capture.payload.subarray(first, first + size) : gathered(capture, row, lengths, size),
  };
}

/** Of captures whose payloads lie apart, such as those that leave frames of another out. */
function gathered(capture: Capture, row: number, lengths: Uint8Array, size: number): Uint8Array {
  const bytes = new Uint8Array(size);
  let at = 0;
  for (let i = 0; i < lengths.length; i++) {
    const from = capture.offset[row + i] as number;
    const stored = lengths[i] as number;
    bytes.set(capture.payload.subarray(from, from + stored), at);
    at += stored;
  }
  return bytes;
}

function fileNotes(capture: Capture, groups: Field[][]): Field[] {
  const schema: Field[][] = [
    [
      [4, 'binary', 'frames'],
      [5, 'i32', COLUMNS.length],
    ],
    ...COLUMNS.map((column): Field[] => [
      [1, 'i32', column.physical],
      [3, 'i32', 0],
      [4, 'binary', column.name],
      ...('converted' in column ? [[6, 'i32', column.converted] satisfies Field] : []),
    ]),
  ];
  const notes: [string, string][] = [['origin_ns', String(capture.originNs)]];
  if (capture.busNames) notes.push(['bus_names', JSON.stringify([...capture.busNames])]);
  return [
    [1, 'i32', 1],
    [2, 'list', 'struct', schema],
    [3, 'i64', capture.count],
    [4, 'list', 'struct', groups],
    [
      5,
      'list',
      'struct',
      notes.map(([key, value]): Field[] => [
        [1, 'binary', key],
        [2, 'binary', value],
      ]),
    ],
    [6, 'binary', 'Bywright'],
  ];
}

function u32(value: number): Uint8Array {
  return Uint8Array.of(value & 255, (value >>> 8) & 255, (value >>> 16) & 255, value >>> 24);
}
