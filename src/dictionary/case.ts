/**
 * Files write `period_ms`, code reads `periodMs`: the one place where the two spellings meet.
 * Only keys with a lower-case letter or digit after an underscore change, so raw values used as keys stay as they are.
 */

type CamelWord<S extends string> = S extends `${infer Head}_${infer Tail}`
  ? `${Head}${Capitalize<CamelWord<Tail>>}`
  : S;

/** The type of a file's content with its keys in camelCase. */
export type Camel<T> = T extends (infer U)[]
  ? Camel<U>[]
  : T extends object
    ? { [K in keyof T as K extends string ? CamelWord<K> : K]: Camel<T[K]> }
    : T;

/** Copies plain data with every key turned from snake_case into camelCase. */
export function camelKeys<T>(data: T): Camel<T> {
  return renamed(data, (key) => key.replace(/_([a-z0-9])/g, (_, c: string) => c.toUpperCase())) as Camel<T>;
}

/** Copies plain data with every key turned from camelCase into snake_case, the reverse of `camelKeys`. */
export function snakeKeys(data: unknown): unknown {
  return renamed(data, (key) => key.replace(/(?<=[a-zA-Z0-9])[A-Z]/g, (c) => `_${c.toLowerCase()}`));
}

function renamed(data: unknown, rename: (key: string) => string): unknown {
  if (Array.isArray(data)) return data.map((item) => renamed(item, rename));
  if (data === null || typeof data !== 'object') return data;
  return Object.fromEntries(
    Object.entries(data).map(([key, value]) => [rename(key), renamed(value, rename)]),
  );
}
