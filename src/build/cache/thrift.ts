/** Writes the little of Thrift's compact protocol that the notes of a Parquet file need: structs of unsigned numbers, texts and lists. */

const TYPE = { i32: 5, i64: 6, binary: 8, list: 9, struct: 12 } as const;
type Kind = keyof typeof TYPE;

export type Field =
  | [id: number, kind: 'i32' | 'i64', value: number]
  | [number, 'binary', string]
  | [number, 'struct', Field[]]
  | List;
type List =
  | [number, 'list', 'i32', number[]]
  | [number, 'list', 'binary', string[]]
  | [number, 'list', 'struct', Field[][]];

/** One struct with its fields in rising order of their numbers. */
export function structBytes(fields: readonly Field[]): Uint8Array {
  const out: number[] = [];
  struct(out, fields);
  return Uint8Array.from(out);
}

function struct(out: number[], fields: readonly Field[]): void {
  let last = 0;
  for (const field of fields) {
    out.push(((field[0] - last) << 4) | TYPE[field[1]]);
    last = field[0];
    if (field[1] === 'list') list(out, field[2], field[3]);
    else value(out, field[1], field[2]);
  }
  out.push(0);
}

function list(out: number[], kind: Kind, items: readonly (number | string | Field[])[]): void {
  if (items.length < 15) out.push((items.length << 4) | TYPE[kind]);
  else {
    out.push(0xf0 | TYPE[kind]);
    varint(out, items.length);
  }
  for (const item of items) value(out, kind, item);
}

function value(out: number[], kind: Kind, item: number | string | Field[]): void {
  if (typeof item === 'number') varint(out, 2 * item);
  else if (typeof item === 'string') {
    const bytes = Buffer.from(item);
    varint(out, bytes.length);
    out.push(...bytes);
  } else if (kind === 'struct') struct(out, item);
}

/** Little-endian base 128; also for numbers above 32 bits. */
export function varint(out: number[], n: number): void {
  let rest = n;
  while (rest >= 128) {
    out.push((rest % 128) | 128);
    rest = Math.floor(rest / 128);
  }
  out.push(rest);
}
