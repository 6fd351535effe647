/** DuckDB in memory, loaded when it is first needed so that no other command pays for it. */
import { CaptureError } from '../../capture/error.ts';

type Api = typeof import('@duckdb/node-api');
type Bindings = typeof import('@duckdb/node-bindings');
type Connection = import('@duckdb/node-api').DuckDBConnection;

export interface DuckDb {
  api: Api;
  /** The C interface, through which whole columns are moved at once. */
  bindings: Bindings;
  connection: Connection;
  close(): void;
}

/**
 * A database of its own in memory: nothing is fetched from a network and nothing written beside what is asked for.
 * @throws CaptureError where DuckDB does not run on this machine
 */
export async function openDuckDb(): Promise<DuckDb> {
  const { api, bindings } = await loaded();
  const instance = await api.DuckDBInstance.create(':memory:', {
    autoinstall_known_extensions: 'false',
    autoload_known_extensions: 'false',
    temp_directory: '',
    errors_as_json: 'true',
  });
  const connection = await instance.connect();
  return {
    api,
    bindings,
    connection,
    close() {
      connection.closeSync();
      instance.closeSync();
    },
  };
}

/** A value as SQL text: quotes inside are doubled. */
export function quoted(text: string): string {
  return `'${text.replaceAll("'", "''")}'`;
}

/** What DuckDB says of an error, without the form in which it is sent; `position` is an offset in the SQL or -1. */
export function duckDbError(error: unknown): { words: string; candidates: string; position: number } {
  const text = error instanceof Error ? error.message : String(error);
  const from = text.indexOf('{"');
  try {
    const told = JSON.parse(text.slice(Math.max(0, from))) as Record<string, string>;
    return {
      words: firstLine(told['exception_message'] ?? text),
      candidates: told['candidates'] ?? '',
      position: Number(told['position'] ?? -1),
    };
  } catch {
    return { words: firstLine(text), candidates: '', position: -1 };
  }
}

/** Without the bytes of a damaged file that DuckDB repeats. */
function firstLine(text: string): string {
  return (text.split('\n')[0] as string).replace(/[^\x20-\x7e\u00a0-\uffff]/g, '?');
}

let loading: Promise<{ api: Api; bindings: Bindings }> | null = null;

function loaded(): Promise<{ api: Api; bindings: Bindings }> {
  loading ??= Promise.all([import('@duckdb/node-api'), import('@duckdb/node-bindings')])
    .then(([api, bindings]) => ({ api, bindings: (bindings as unknown as { default: Bindings }).default }))
    .catch((error) => {
      throw new CaptureError(
        `DuckDB, which Parquet and SQL need, does not run on this machine (${(error as Error).message.split('\n')[0]}): install the packages again with npm ci.`,
      );
    });
  return loading;
}
