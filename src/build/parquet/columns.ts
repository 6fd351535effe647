/** Which columns of a Parquet file hold what of a frame, as SQL expressions in the order of `FRAME_COLUMNS`. */
import { CaptureError } from '../../capture/error.ts';
import { FLAG_LETTERS } from '../../capture/text/columns.ts';
import { headerKind } from '../../capture/text/sample.ts';
import { NO_ID } from './frames.ts';

export interface ParquetColumn {
  name: string;
  /** As DuckDB names it: DOUBLE, VARCHAR, UTINYINT[] … */
  type: string;
}

export interface FrameProjection {
  /** Expressions for t, bus, id, ext, flags, length, data. */
  select: string;
  /** One line: what was taken from which column. */
  guess: string;
  /** Where t is an instant or a number: what gives the first frame's nanoseconds since 1970, or seconds. */
  time: { column: string; kind: 'instant' } | { column: string; kind: 'seconds' } | null;
}

/** What the program's own files hold, in this order; read without any conversion. */
export const OWN_COLUMNS: readonly ParquetColumn[] = [
  { name: 't', type: 'DOUBLE' },
  { name: 'bus', type: 'UTINYINT' },
  { name: 'id', type: 'UINTEGER' },
  { name: 'ext', type: 'UTINYINT' },
  { name: 'flags', type: 'UTINYINT' },
  { name: 'length', type: 'UTINYINT' },
  { name: 'data', type: 'BLOB' },
];

export function isOwn(columns: readonly ParquetColumn[]): boolean {
  return (
    columns.length === OWN_COLUMNS.length &&
    OWN_COLUMNS.every((c, i) => columns[i]?.name === c.name && columns[i]?.type === c.type)
  );
}

/**
 * Finds the columns of a frame in any Parquet file by name and type. Text identifiers and payloads are hex.
 * @throws CaptureError where no column holds an identifier or a payload
 */
export function projectionOf(columns: readonly ParquetColumn[]): FrameProjection {
  const found = (kind: string, types: RegExp) =>
    columns.find((c) => headerKind(plain(c.name)) === kind && types.test(c.type));
  const id = found('id', /^(U?(TINY|SMALL|BIG|HUGE)?INT(EGER)?|VARCHAR)$/);
  const data = found('data', /^(BLOB|VARCHAR|U?(TINY|SMALL|BIG)?INT(EGER)?\[\d*\])$/);
  if (!id || !data) {
    const names = columns.map((c) => `${c.name} ${c.type}`).join(', ');
    throw new CaptureError(
      `This Parquet file holds no frames: its columns are ${names}; right would be t DOUBLE, bus UTINYINT, id UINTEGER, ext UTINYINT, flags UTINYINT, length UTINYINT, data BLOB, or id and data at least.`,
    );
  }
  const time = found('time', /^(DOUBLE|FLOAT|DECIMAL.*|U?(SMALL|BIG)?INT(EGER)?|TIMESTAMP.*)$/);
  const bus = found('bus', /^(U?(TINY|SMALL|BIG)?INT(EGER)?|VARCHAR)$/);
  const ext = found('ext', /^(BOOLEAN|U?(TINY|SMALL|BIG)?INT(EGER)?)$/);
  const flags = found('flags', /^(U?(TINY|SMALL|BIG)?INT(EGER)?|VARCHAR)$/);
  const length = found('length', /^U?(TINY|SMALL|BIG)?INT(EGER)?$/);
  const sql = {
    id:
      id.type === 'VARCHAR'
        ? `try_cast('0x' || regexp_replace(${name(id)}, '^0[xX]', '') as uinteger)`
        : `try_cast(${name(id)} as uinteger)`,
    data: `coalesce(${dataOf(data)}, ''::blob)`,
    bus: bus ? `coalesce(${busOf(bus)}, 0)` : '0',
    flags: flags ? `coalesce(${flagsOf(flags)}, 255)` : '0',
  };
  const extended = ext
    ? `case when ${name(ext)}::int != 0 then 1 else 0 end`
    : flags && flags.type !== 'VARCHAR'
      ? `${sql.flags} & 1`
      : `case when ${sql.id} > 2047 then 1 else 0 end`;
  const all = flags
    ? `(${sql.flags} & 254) | (${extended})`
    : `(${extended}) | case when octet_length(${sql.data}) > 8 then 8 else 0 end`;
  const parts = [
    time ? `coalesce(${timeOf(time)}, 'nan'::double)` : '0::double',
    `(${sql.bus})::utinyint`,
    `coalesce(${sql.id}, ${NO_ID})::uinteger`,
    `(${extended})::utinyint`,
    `(${all})::utinyint`,
    `coalesce(${length ? `try_cast(${name(length)} as utinyint)` : `least(octet_length(${sql.data}), 255)`}, 255)::utinyint`,
    sql.data,
  ];
  const named = { t: time, bus, id, ext, flags, length, data };
  const words = Object.entries(named).flatMap(([what, column]) =>
    column ? [column.name === what ? what : `${what} from ${column.name}`] : [],
  );
  return {
    select: parts.join(', '),
    guess: `Parquet, ${words.join(', ')}${id.type === 'VARCHAR' ? ', id as hex text' : ''}${data.type === 'VARCHAR' ? ', data as hex text' : ''}`,
    time: time
      ? { column: timeOf(time), kind: time.type.startsWith('TIMESTAMP') ? 'instant' : 'seconds' }
      : null,
  };
}

function plain(column: string): string {
  return column
    .toLowerCase()
    .replace(/[_\s.-]+/g, ' ')
    .trim();
}

function name(column: ParquetColumn): string {
  return `"${column.name.replaceAll('"', '""')}"`;
}

/** Seconds for numbers; whole nanoseconds since 1970 for instants. */
function timeOf(column: ParquetColumn): string {
  if (column.type.startsWith('TIMESTAMP')) return `epoch_ns(${name(column)})`;
  const unit = / (ms|us|µs|ns)$/.exec(plain(column.name))?.[1] ?? 's';
  const perSecond = { s: 1, ms: 1e3, us: 1e6, µs: 1e6, ns: 1e9 }[unit];
  return `(${name(column)}::double / ${perSecond})`;
}

function busOf(column: ParquetColumn): string {
  return column.type === 'VARCHAR'
    ? `try_cast(regexp_extract(${name(column)}, '(\\d+)$', 1) as utinyint)`
    : `try_cast(${name(column)} as utinyint)`;
}

function flagsOf(column: ParquetColumn): string {
  if (column.type !== 'VARCHAR') return `try_cast(${name(column)} as utinyint)`;
  const bits = [...FLAG_LETTERS].map(
    (letter, k) => `case when contains(${name(column)}, '${letter}') then ${2 << k} else 0 end`,
  );
  return `(${bits.join(' + ')})`;
}

function dataOf(column: ParquetColumn): string {
  if (column.type === 'BLOB') return name(column);
  if (column.type === 'VARCHAR')
    return `try(unhex(regexp_replace(${name(column)}, '[^0-9A-Fa-f]', '', 'g')))`;
  return `unhex(array_to_string(list_transform(${name(column)}::utinyint[], lambda b: printf('%02x', b)), ''))`;
}
