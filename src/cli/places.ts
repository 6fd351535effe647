/** Places of signals in tables: "1 0E4 bits 21, 12 big". */
import { formatId } from '../can/frame.ts';
import type { SignalPlace } from '../findings/relations/index.ts';

/** Bus, identifier and field in one cell. */
export function placeWords({
  bus,
  id,
  extended,
  start,
  length,
  byteOrder,
  selectorValue,
}: SignalPlace): string {
  const where = length === 1 ? `bit ${start}` : `${start}:${length}${byteOrder === 'big' ? ' big' : ''}`;
  const under = selectorValue === null || selectorValue === undefined ? '' : ` at selector ${selectorValue}`;
  return `${bus} ${formatId(id, extended)} ${where}${under}`;
}
