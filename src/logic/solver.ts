/**
 * A safe door to the z3 solver: SMT-LIB text in, a verdict and values out.
 *
 * The text is copied to the solver's heap and passed by pointer. (The package's own `eval_smtlib2_string` leaves it on
 * the stack of the calling thread while another thread still reads it; whatever the caller does meanwhile can
 * overwrite the end of a query and turn its verdict.) A verdict is taken only if the reply is exactly that.
 */

export interface SolverAnswer {
  verdict: 'sat' | 'unsat' | 'unknown';
  /** For `sat`: the value of every term asked for, as an integer ≥ 0 (bit-vectors unsigned, truth values 0 and 1). */
  values: Map<string, bigint>;
}

export interface CheckOptions {
  /** Bound on the solver's work in its own units: gives the same verdict on a slow and on a busy machine, unlike a time. */
  rlimit?: number;
  /** Terms whose values are wanted. */
  values?: readonly string[];
  /** Interrupts the query; `check` then throws the signal's reason. */
  signal?: AbortSignal;
}

export interface Solver {
  /**
   * Declarations, definitions and assertions in SMT-LIB 2, without `check-sat`, answered in a context of their own.
   * Queries given while one runs wait for their turn. Throws `SolverError` if the solver rejects the text.
   */
  check(text: string, options?: CheckOptions): Promise<SolverAnswer>;
  /** Ends the solver's threads, without which the process would not end. Waits for queries under way. */
  close(): Promise<void>;
  /** How many queries it answers at a time; without it one. */
  readonly width?: number;
}

/** The solver gave a reply that is no verdict; the sentence holds the reply. */
export class SolverError extends Error {
  override name = 'SolverError';
}

/** Starts a solver of its own, about 0.2 s; use one for many queries, and close it. */
export async function openSolver(): Promise<Solver> {
  const { init } = await import('z3-solver');
  // Its threads write a line to the console when they end; what matters comes as an error.
  return solverOn((await init({ printErr: () => undefined })) as unknown as Engine);
}

/** The solver over an engine already started. Apart from `openSolver` so that a test can disturb the engine meanwhile. */
export function solverOn({ Z3, em }: Engine): Solver {
  let last: Promise<unknown> = Promise.resolve();
  let closed = false;

  function inTurn<T>(task: () => Promise<T>): Promise<T> {
    const turn = last.then(task);
    last = turn.catch(() => undefined);
    return turn;
  }

  async function answer(text: string, options: CheckOptions): Promise<SolverAnswer> {
    const { rlimit = 0, values = [], signal } = options;
    signal?.throwIfAborted();
    const config = Z3.mk_config();
    const context = Z3.mk_context(config);
    Z3.del_config(config);
    const interrupt = () => Z3.interrupt(context);
    signal?.addEventListener('abort', interrupt);
    try {
      // Set every time, 0 = none: the option outlives the context.
      const reply = await evaluate(em, context, `(set-option :rlimit ${rlimit})\n${text}\n(check-sat)\n`);
      signal?.throwIfAborted();
      const verdict = verdictOf(reply);
      if (verdict !== 'sat' || values.length === 0) return { verdict, values: new Map() };
      const model = await evaluate(em, context, `(get-value (${values.join(' ')}))\n`);
      return { verdict, values: valuesOf(model, values) };
    } finally {
      signal?.removeEventListener('abort', interrupt);
      Z3.del_context(context);
    }
  }

  return {
    check: (text, options = {}) => {
      if (closed) return Promise.reject(new SolverError('the solver was closed before this query'));
      return inTurn(() => answer(text, options));
    },
    close: async () => {
      closed = true;
      await last;
      em.PThread.terminateAllThreads();
    },
  };
}

/** The part of the package's low-level interface that is used here. */
export interface Engine {
  Z3: {
    mk_config(): number;
    del_config(config: number): void;
    mk_context(config: number): number;
    del_context(context: number): void;
    interrupt(context: number): void;
  };
  em: Emscripten;
}

interface Emscripten {
  HEAPU8: Uint8Array;
  PThread: { terminateAllThreads(): void };
  _malloc(size: number): number;
  _free(pointer: number): void;
  async_call(call: () => void): Promise<string>;
  ccall(name: string, returns: string, types: string[], values: (number | string)[]): void;
}

async function evaluate(em: Emscripten, context: number, text: string): Promise<string> {
  const bytes = new TextEncoder().encode(text);
  const pointer = em._malloc(bytes.length + 1);
  if (pointer === 0)
    throw new SolverError(`the solver has no memory left for a query of ${bytes.length} bytes`);
  try {
    em.HEAPU8.set(bytes, pointer);
    em.HEAPU8[pointer + bytes.length] = 0;
    return await em.async_call(() =>
      em.ccall('async_Z3_eval_smtlib2_string', 'void', ['number', 'number'], [context, pointer]),
    );
  } finally {
    em._free(pointer);
  }
}

function verdictOf(reply: string): SolverAnswer['verdict'] {
  const text = reply.trim();
  if (text === 'sat' || text === 'unsat' || text === 'unknown') return text;
  throw new SolverError(`the solver gave no verdict but: ${text.slice(0, 500) || 'nothing'}`);
}

/** Values of a `get-value` reply, which lists (term value) pairs in the order asked. */
function valuesOf(reply: string, terms: readonly string[]): Map<string, bigint> {
  const list = reply.includes('(error') ? null : parse(reply);
  const pairs = Array.isArray(list) ? list : [];
  const values = new Map<string, bigint>();
  terms.forEach((term, i) => {
    const pair = pairs[i];
    const value = Array.isArray(pair) && pair.length === 2 ? integerOf(pair[1] as Expression) : null;
    if (value === null)
      throw new SolverError(`the solver gave no value for ${term} but: ${reply.trim().slice(0, 500)}`);
    values.set(term, value);
  });
  return values;
}

type Expression = string | Expression[];

function parse(text: string): Expression | null {
  const tokens = text.match(/[()]|\|[^|]*\||[^\s()|]+/g) ?? [];
  let at = 0;
  function next(): Expression | null {
    const token = tokens[at++];
    if (token === undefined || token === ')') return null;
    if (token !== '(') return token;
    const list: Expression[] = [];
    while (tokens[at] !== ')') {
      const item = next();
      if (item === null) return null;
      list.push(item);
    }
    at++;
    return list;
  }
  return next();
}

function integerOf(value: Expression): bigint | null {
  if (value === 'true') return 1n;
  if (value === 'false') return 0n;
  if (typeof value !== 'string') return null;
  if (/^#b[01]+$|^#x[0-9a-fA-F]+$/.test(value)) return BigInt(`0${value.slice(1)}`);
  return null;
}
