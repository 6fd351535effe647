/**
 * Named columns of numbers in one buffer, for the way from the server to a page: four bytes with the length of a JSON text, the
 * text, then the columns one after another, each at a multiple of eight. All numbers little-endian.
 */

export type Column = Float64Array | Float32Array | Uint32Array | Uint8Array;

const TYPES = { f64: Float64Array, f32: Float32Array, u32: Uint32Array, u8: Uint8Array } as const;

interface Head {
  values: unknown;
  columns: { name: string; type: keyof typeof TYPES; length: number }[];
}

/** `values` is anything that JSON can hold. */
export function packed(values: unknown, columns: Readonly<Record<string, Column>>): Uint8Array<ArrayBuffer> {
  const list = Object.entries(columns);
  const head: Head = {
    values,
    columns: list.map(([name, column]) => ({ name, type: typeOf(column), length: column.length })),
  };
  const text = new TextEncoder().encode(JSON.stringify(head));
  const size = list.reduce((at, [, column]) => aligned(at) + column.byteLength, aligned(4 + text.length));
  const bytes = new Uint8Array(size);
  new DataView(bytes.buffer).setUint32(0, text.length, true);
  bytes.set(text, 4);
  let at = aligned(4 + text.length);
  for (const [, column] of list) {
    at = aligned(at);
    bytes.set(new Uint8Array(column.buffer, column.byteOffset, column.byteLength), at);
    at += column.byteLength;
  }
  return bytes;
}

/**
 * The columns are views of `buffer`, not copies.
 * @throws Error where the buffer is not what `packed` makes
 */
export function unpacked<V>(buffer: ArrayBuffer): { values: V; columns: Record<string, Column> } {
  const wrong = new Error('the answer is cut short or of another kind');
  if (buffer.byteLength < 4) throw wrong;
  const length = new DataView(buffer).getUint32(0, true);
  if (4 + length > buffer.byteLength) throw wrong;
  let head: Head;
  try {
    head = JSON.parse(
      new TextDecoder('utf-8', { fatal: true }).decode(new Uint8Array(buffer, 4, length)),
    ) as Head;
  } catch {
    throw wrong;
  }
  const columns: [name: string, column: Column][] = [];
  let at = 4 + length;
  if (!Array.isArray(head?.columns)) throw wrong;
  for (const { name, type, length } of head.columns) {
    at = aligned(at);
    const make = TYPES[type];
    if (make === undefined || at + length * make.BYTES_PER_ELEMENT > buffer.byteLength) throw wrong;
    columns.push([name, new make(buffer, at, length)]);
    at += length * make.BYTES_PER_ELEMENT;
  }
  // A column may be called anything, also what plain objects have already.
  return { values: head.values as V, columns: Object.fromEntries(columns) };
}

function aligned(at: number): number {
  return Math.ceil(at / 8) * 8;
}

function typeOf(column: Column): keyof typeof TYPES {
  if (column instanceof Float64Array) return 'f64';
  if (column instanceof Float32Array) return 'f32';
  return column instanceof Uint32Array ? 'u32' : 'u8';
}
