/**
 * The cache's own Parquet: columns as `docs/forms.md` says, uncompressed and laid out as they lie in memory, so that opening is
 * little more than reading. Any Parquet reader takes it; ours goes by the places that the writer gives.
 */
import type { FileHandle } from 'node:fs/promises';
import { FLAG } from '../../can/frame.ts';
import { storedLength } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import { FileSum } from './fileSum.ts';
import { type Field, structBytes, varint } from './thrift.ts';

/** Where the values of one row group lie in the file, in bytes from its start. */
export interface PlainGroup {
  from: number;
  to: number;
  rows: number;
  t: number;
  bus: number;
  id: number;
  flags: number;
  length: number;
  data: number;
}

export interface PlainLayout {
  groups: PlainGroup[];
  bytes: number;
  /** `FileSum` over the row groups and what follows them, one piece each. */
  sum: string;
}

/** Rows of a group: its bytes stay in the processor's cache while they are taken apart. */
const GROUP_ROWS = 1 << 16;

/** The file piece by piece; its return value says where everything lies. */
export function* writePlain(capture: Capture): Generator<Uint8Array, PlainLayout, undefined> {
  const sum = new FileSum();
  const groups: PlainGroup[] = [];
  const notes: Field[][] = [];
  let at = 0;
  for (let row = 0; row < capture.count; row += GROUP_ROWS) {
    const rows = Math.min(GROUP_ROWS, capture.count - row);
    const { parts, group, chunks } = groupOf(capture, row, rows, at);
    const bytes = Buffer.concat(parts);
    sum.add(bytes);
    yield bytes;
    at = group.to;
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
  sum.add(end);
  yield end;
  return { groups, bytes: at + end.length, sum: sum.hex() };
}

/**
 * The frames of a file that `writePlain` wrote; null where its bytes are not those that were written.
 * @param payloadBytes payload bytes of all frames together
 */
export async function readPlain(
  file: FileHandle,
  { groups, bytes, sum: right }: PlainLayout,
  payloadBytes: number,
  onGroup: (group: PlainGroup, frames: number) => void = () => {},
): Promise<Omit<Capture, 'originNs' | 'busNames'> | null> {
  if ((await file.stat()).size !== bytes) return null;
  const count = groups.reduce((total, group) => total + group.rows, 0);
  const columns = {
    time: new Float64Array(count),
    id: new Uint32Array(count),
    bus: new Uint8Array(count),
    flags: new Uint8Array(count),
    length: new Uint8Array(count),
    offset: new Uint32Array(count),
    payload: new Uint8Array(payloadBytes),
  };
  const time = new Uint8Array(columns.time.buffer);
  const id = new Uint8Array(columns.id.buffer);
  const sum = new FileSum();
  const largest = Math.max(bytes - (groups.at(-1)?.to ?? 0), ...groups.map((group) => group.to - group.from));
  const space = new Uint8Array(largest);
  let row = 0;
  let used = 0;
  for (const group of groups) {
    const { from, to, rows } = group;
    const piece = space.subarray(0, to - from);
    if (!(await readFully(file, piece, from))) return null;
    sum.add(piece);
    const part = (start: number, size: number) => piece.subarray(start - from, start - from + size);
    time.set(part(group.t, 8 * rows), 8 * row);
    id.set(part(group.id, 4 * rows), 4 * row);
    columns.bus.set(part(group.bus, rows), row);
    columns.flags.set(part(group.flags, rows), row);
    columns.length.set(part(group.length, rows), row);
    used = takePayloads(piece, group.data - from, columns, row, rows, used);
    if (used < 0) return null;
    row += rows;
    onGroup(group, row);
  }
  const end = groups.at(-1)?.to ?? 0;
  const piece = space.subarray(0, bytes - end);
  if (!(await readFully(file, piece, end))) return null;
  sum.add(piece);
  return sum.hex() === right && used === payloadBytes ? { count, ...columns } : null;
}

const MAGIC = Buffer.from('PAR1');

/** Physical types, converted types, encodings and page types of the Parquet format. */
const PHYSICAL = { int32: 1, double: 5, bytes: 6 } as const;
const CONVERTED = { uint8: 11, uint32: 13 } as const;
const ENCODING = { plain: 0, rle: 3, dictionary: 8 } as const;
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
  const places: number[] = [];
  const chunks = COLUMNS.map(({ name, physical }): ColumnChunk => {
    const start = at;
    const small = physical === PHYSICAL.int32 && name !== 'id';
    if (small) for (const part of DICTIONARY_PAGE) put(part);
    const page = at;
    const values = small
      ? indexed(smallValues(capture, name, row, rows))
      : { head: new Uint8Array(0), body: wideValues(capture, name, row, rows) };
    const size = values.head.length + values.body.length;
    const encoding = small ? ENCODING.dictionary : ENCODING.plain;
    put(
      pageHeader(PAGE.data, size, [
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
    put(values.head);
    places.push(at);
    put(values.body);
    const meta: Field[] = [
      [1, 'i32', physical],
      [2, 'list', 'i32', small ? [ENCODING.plain, ENCODING.dictionary] : [ENCODING.plain]],
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
  const [t, bus, id, , flags, length, data] = places as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const group: PlainGroup = { from, to: at, rows, t, bus, id, flags, length, data };
  return { parts, group, chunks };
}

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

/** Indices of eight bits, packed: one run of whole groups of eight. */
function indexed(values: Uint8Array): { head: Uint8Array; body: Uint8Array } {
  const groups = Math.ceil(values.length / 8);
  const head = [8];
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
  if (name === 'data') return payloads(capture, row, rows);
  const { buffer, byteOffset, BYTES_PER_ELEMENT } = name === 't' ? capture.time : capture.id;
  return new Uint8Array(buffer, byteOffset + row * BYTES_PER_ELEMENT, rows * BYTES_PER_ELEMENT);
}

/** Each payload after its length in 32 bits. */
function payloads(capture: Capture, row: number, rows: number): Uint8Array {
  let size = 4 * rows;
  for (let i = row; i < row + rows; i++) size += storedLength(capture, i);
  const bytes = new Uint8Array(size);
  let at = 0;
  for (let i = row; i < row + rows; i++) {
    const stored = storedLength(capture, i);
    const from = capture.offset[i] as number;
    bytes[at] = stored;
    at += 4;
    for (let k = 0; k < stored; k++) bytes[at + k] = capture.payload[from + k] as number;
    at += stored;
  }
  return bytes;
}

/** Returns how many payload bytes there are now, or -1 where the lengths lead out of the piece. */
function takePayloads(
  piece: Uint8Array,
  from: number,
  { offset, payload, flags, length }: Pick<Capture, 'offset' | 'payload' | 'flags' | 'length'>,
  row: number,
  rows: number,
  before: number,
): number {
  let at = from;
  let used = before;
  for (let i = row; i < row + rows; i++) {
    const size = piece[at] as number;
    at += 4;
    offset[i] = used;
    const stored = ((flags[i] as number) & FLAG.remote) !== 0 ? 0 : (length[i] as number);
    if (size !== stored || at + size > piece.length || used + size > payload.length) return -1;
    for (let k = 0; k < size; k++) payload[used + k] = piece[at + k] as number;
    at += size;
    used += size;
  }
  return used;
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

/** Whether the whole piece could be read. */
async function readFully(file: FileHandle, piece: Uint8Array, from: number): Promise<boolean> {
  let got = 0;
  while (got < piece.length) {
    const { bytesRead } = await file.read(piece, got, piece.length - got, from + got);
    if (bytesRead === 0) return false;
    got += bytesRead;
  }
  return true;
}
