/** Values of DuckDB as plain ones. */
import type { DuckDb } from '../parquet/duckdb.ts';

type DuckDbValue = import('@duckdb/node-api').DuckDBValue;

export type SqlValue = string | number | boolean | null;

/** Numbers that a double holds exactly stay numbers, bytes become hex, everything else its text in SQL. */
export function readCell({ api }: DuckDb, value: DuckDbValue): SqlValue {
  if (value === null || typeof value === 'number' || typeof value === 'boolean' || typeof value === 'string')
    return value;
  if (typeof value === 'bigint')
    return value >= -MAX_EXACT && value <= MAX_EXACT ? Number(value) : value.toString();
  if (value instanceof api.DuckDBBlobValue) return Buffer.from(value.bytes).toString('hex').toUpperCase();
  if (value instanceof api.DuckDBDecimalValue) return value.toDouble();
  return String(value);
}

const MAX_EXACT = BigInt(Number.MAX_SAFE_INTEGER);
