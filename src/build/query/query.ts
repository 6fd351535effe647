/**
 * SQL over the captures of a build: frames as recorded, signals as the dictionaries read them, cues as
 * written down, reference channels on the clock of their capture.
 */
import type { Capture } from '../../capture/store.ts';
import type { Build } from '../model.ts';
import { type DuckDb, duckDbError, openDuckDb } from '../parquet/duckdb.ts';
import { readCell, type SqlValue } from './cells.ts';
import { makeViews, VIEWS } from './views.ts';

/** A question that cannot be answered: one sentence with the place in the SQL. */
export class QueryError extends Error {
  override readonly name = 'QueryError';
}

export interface QueryColumn {
  name: string;
  /** SQL type: DOUBLE, VARCHAR … */
  type: string;
}

export interface QueryResult {
  columns: QueryColumn[];
  /** The rows, a few thousand at a time; `close` must be called when no more are wanted. */
  rows(): AsyncGenerator<SqlValue[][], void, undefined>;
  close(): void;
}

export interface QueryOptions {
  /** Reads one capture of the build by its file name. */
  read(name: string): Promise<Capture>;
  signal?: AbortSignal | undefined;
}

/**
 * Answers one SQL query over the views `frames`, `signals`, `cues` and `references` of a build. Only what the query names is loaded; it
 * reads nothing else and changes nothing.
 * @throws QueryError where the SQL is wrong or is no query
 * @throws CaptureError where a capture cannot be read
 */
export async function query(build: Build, sql: string, { read, signal }: QueryOptions): Promise<QueryResult> {
  const db = await openDuckDb();
  const stop = () => db.connection.interrupt();
  try {
    const wanted = await viewsNamed(db, sql);
    await makeViews(db, build, wanted, read, signal);
    // From here on DuckDB opens no file, and nothing in the query can change that.
    await db.connection.run('set enable_external_access = false');
    await db.connection.run('set lock_configuration = true');
    signal?.throwIfAborted();
    signal?.addEventListener('abort', stop);
    const result = await onlyStatement(db, sql).then((statement) => statement.stream());
    const columns = result.columnNames().map((name, i) => ({ name, type: String(result.columnType(i)) }));
    return {
      columns,
      async *rows() {
        try {
          for (;;) {
            const chunk = await result.fetchChunk();
            if (chunk === null || chunk.rowCount === 0) return;
            yield chunk.getRows().map((row) => row.map((value) => readCell(db, value)));
          }
        } catch (error) {
          throw told(error, sql, signal);
        }
      },
      close() {
        signal?.removeEventListener('abort', stop);
        db.close();
      },
    };
  } catch (error) {
    signal?.removeEventListener('abort', stop);
    db.close();
    throw told(error, sql, signal);
  }
}

/** Names of the views that the SQL mentions; all of them where DuckDB cannot tell before they are there. */
async function viewsNamed(db: DuckDb, sql: string): Promise<ReadonlySet<string>> {
  const statements = await db.connection.extractStatements(sql).catch((error) => {
    // Without a place in the SQL there was nothing to find one in: blanks or comments alone.
    if (duckDbError(error).position >= 0) throw error;
    return { count: 0 };
  });
  if (statements.count === 0)
    throw new QueryError(
      'The SQL holds no statement: right would be, for example, select count(*) from frames.',
    );
  if (statements.count > 1)
    throw new QueryError(`The SQL holds ${statements.count} statements: ask one query at a time.`);
  try {
    return new Set(db.connection.getTableNames(sql, false).map((name) => name.toLowerCase()));
  } catch {
    return new Set(VIEWS);
  }
}

/** @throws QueryError where the statement is one that does more than read */
async function onlyStatement(db: DuckDb, sql: string) {
  const { StatementType } = db.api;
  const statement = await (await db.connection.extractStatements(sql)).prepare(0);
  const { statementType, parameterCount } = statement;
  if (statementType !== StatementType.SELECT && statementType !== StatementType.EXPLAIN) {
    const what = (StatementType[statementType] ?? 'other').toLowerCase().replaceAll('_', ' ');
    throw new QueryError(
      `This is no query but "${what}": a build is only read here; right would be select … from frames, signals, cues or "references".`,
    );
  }
  if (parameterCount > 0)
    throw new QueryError('The SQL holds a place for a value ("?" or "$1"): write the value itself.');
  return statement;
}

/** The error as one sentence with line and column, where it is one about the SQL. */
function told(error: unknown, sql: string, signal: AbortSignal | undefined): unknown {
  if (signal?.aborted) return signal.reason;
  if (!(error instanceof Error) || error instanceof QueryError || error.name === 'CaptureError') return error;
  const { words, candidates, position } = duckDbError(error);
  const what = words.replace(/[.!]+$/, '');
  // DuckDB's own tables are nothing that a person looks for.
  const near = candidates.split(',').filter((name) => name !== '' && !name.startsWith('pg_'));
  return new QueryError(
    `${placeIn(sql, position)}${what}${near.length > 0 ? `; near: ${near.join(', ')}` : ''}.`,
  );
}

/** "SQL line 2, column 5: "; without line where there is only one. */
function placeIn(sql: string, position: number): string {
  if (position < 0) return 'SQL: ';
  // DuckDB counts bytes, a person characters.
  const before = Buffer.from(sql).subarray(0, position).toString();
  const line = before.split('\n').length;
  const column = [...before.slice(before.lastIndexOf('\n') + 1)].length + 1;
  return sql.trim().includes('\n') ? `SQL line ${line}, column ${column}: ` : `SQL column ${column}: `;
}
