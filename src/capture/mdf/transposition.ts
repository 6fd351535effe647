/** Transposition of records before deflate: whole rows column by column, what is left over behind them as it is. */

/** Rows to columns. `row` is the length of a record in bytes. */
export function transposed(bytes: Uint8Array, row: number): Uint8Array {
  const rows = Math.floor(bytes.length / row);
  const out = new Uint8Array(bytes.length);
  let to = 0;
  for (let column = 0; column < row; column++) {
    for (let at = column, end = rows * row; at < end; at += row) out[to++] = bytes[at] as number;
  }
  out.set(bytes.subarray(rows * row), rows * row);
  return out;
}

/** Columns back to rows. */
export function untransposed(bytes: Uint8Array, row: number): Uint8Array {
  const rows = Math.floor(bytes.length / row);
  // A damaged file may claim a row of 4 GiB: without a whole row there is nothing to turn, and no column to count.
  if (rows === 0) return bytes;
  const out = new Uint8Array(bytes.length);
  let from = 0;
  for (let column = 0; column < row; column++) {
    for (let at = column, end = rows * row; at < end; at += row) out[at] = bytes[from++] as number;
  }
  out.set(bytes.subarray(rows * row), rows * row);
  return out;
}
