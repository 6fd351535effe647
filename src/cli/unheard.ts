/** The wrong recording, or wrong bus numbers: said at once, instead of a table of zeros. */
import { FLAG, idKey } from '../can/frame.ts';
import { groupByMessage } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { counted } from './print.ts';

export interface Wanted {
  bus: number;
  id: number;
  extended: boolean;
}

/** A note on standard error where the capture holds none of the messages that `reader` reads. */
export function tellUnheard(reader: string, wanted: readonly Wanted[], capture: Capture, path: string): void {
  const key = (m: Wanted) => `${m.bus}/${idKey(m.id, m.extended ? FLAG.extended : 0)}`;
  const groups = groupByMessage(capture);
  const heard = new Set(groups.map(key));
  if (wanted.length === 0 || wanted.some((m) => heard.has(key(m)))) return;
  const messages = new Set(wanted.map(key)).size;
  const list = (buses: number[]) => [...new Set(buses)].sort((a, b) => a - b).join(', ');
  process.stderr.write(
    `note: ${path} holds none of the ${counted(messages, 'message')} that ${reader} reads (on bus ${list(wanted.map((m) => m.bus))}); ` +
      `it has ${counted(groups.length, 'other', 'others')}, on bus ${list(groups.map((g) => g.bus))}. Bus numbers stand in buses.yaml.\n`,
  );
}
