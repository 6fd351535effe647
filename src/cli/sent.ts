/** What a gateway sent, counted by message. */
import type { Gateway } from '../bridge/gateway.ts';
import { FLAG, formatId, idKey } from '../can/frame.ts';
import { groupByMessage } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';

export interface SentMessage {
  bus: number;
  id: string;
  name: string;
  frames: number;
}

/** One line per message that the gateway can send, under its name in the dictionary, also where it sent none. */
export function sentByMessage(gateway: Gateway, sent: Capture): SentMessage[] {
  const counts = new Map<string, number>();
  for (const g of groupByMessage(sent)) {
    counts.set(`${g.bus}/${idKey(g.id, g.extended ? FLAG.extended : 0)}`, g.frames.length);
  }
  const names = new Map(gateway.names.filter((n) => n.kind === 'message').map((n) => [n.name, n.original]));
  return gateway.tx.map((tx) => ({
    bus: tx.bus,
    id: formatId(tx.id, tx.extended),
    // "bus: message" in the table of names.
    name: names.get(tx.name)?.replace(/^[^:]*: /, '') ?? tx.name,
    frames: counts.get(`${tx.bus}/${idKey(tx.id, tx.extended ? FLAG.extended : 0)}`) ?? 0,
  }));
}
