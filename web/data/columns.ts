/** Questions whose answer is columns of numbers. */
import { type Column, unpacked } from '../../src/capture/overview/packed.ts';
import type { ErrorReply } from '../../src/server/api.ts';
import { AskError } from './ask.ts';

export interface Columns<V> {
  head: V;
  columns: Record<string, Column>;
}

/** Throws `AskError` with the server's sentence. */
export async function askColumns<V>(path: string, signal: AbortSignal): Promise<Columns<V>> {
  const reply = await fetch(path, { signal });
  if (!reply.ok) {
    const told = (await reply.json().catch(() => null)) as ErrorReply | null;
    throw new AskError(
      told ?? { error: `The server answered ${reply.status} to ${path} without saying why.` },
    );
  }
  const { values, columns } = unpacked<V>(await reply.arrayBuffer());
  return { head: values, columns };
}
