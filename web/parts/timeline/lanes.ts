/** Fields that can be drawn over time: signals of the dictionaries, and any place in a payload. */

import { formatId } from '../../../src/can/frame.ts';
import type { Dictionary } from '../../../src/dictionary/model.ts';
import type { BuildReply } from '../../../src/server/api.ts';
import type { Lane } from './data.ts';

/** Signals of one dictionary that nobody rejected. */
export function lanesOf(
  dictionary: Dictionary,
  bus: NonNullable<BuildReply['build']>['buses'][number],
): Lane[] {
  return dictionary.messages.flatMap((message) =>
    message.signals
      .filter(({ state }) => state !== 'rejected')
      .map((signal): Lane => {
        const { start, length, byteOrder, signed, scale, offset, unit, name } = signal;
        const id = formatId(message.id, message.extended);
        const query = placeQuery({
          bus: bus.number,
          id,
          ext: message.extended ? 1 : 0,
          start,
          length,
          byteOrder,
          signed,
        });
        const { selector } = message;
        const value = signal.selectorValue ?? null;
        const behind =
          selector && value !== null
            ? `&selector=${selector.start}:${selector.length}:${selector.byteOrder}:${value}`
            : '';
        return { query: query + behind, name, of: `${message.name} ${id}, ${bus.name}`, unit, scale, offset };
      }),
  );
}

export interface Place {
  bus: number;
  id: string;
  ext: 0 | 1;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  signed: boolean | 'magnitude';
}

/** A field that nobody has named, in raw steps. */
export function laneAt(place: Place): Lane {
  const { bus, id, start, length, byteOrder } = place;
  const bits = length === 1 ? `bit ${start}` : `${length} bits from ${start}, ${byteOrder}`;
  return {
    query: placeQuery(place),
    name: bits,
    of: `${id}, bus ${bus}, raw`,
    unit: '',
    scale: 1,
    offset: 0,
  };
}

/** A lane as it stands in an address. */
export function laneText({ query, name, of, unit, scale, offset }: Lane): string {
  return `${query}&${new URLSearchParams({ name, of, unit, scale: String(scale), offset: String(offset) })}`;
}

/** The lane of an address; null where it is none. */
export function laneOfText(text: string): Lane | null {
  const all = new URLSearchParams(text);
  const given = (name: string) => all.get(name) ?? '';
  const [scale, offset] = [Number(given('scale') || 1), Number(given('offset') || 0)];
  if (!['bus', 'id', 'ext', 'start', 'length', 'byteOrder', 'signed'].every((name) => all.has(name)))
    return null;
  if (!Number.isFinite(scale) || !Number.isFinite(offset)) return null;
  const named = { name: given('name') || `bit ${given('start')}`, of: given('of'), unit: given('unit') };
  for (const name of ['name', 'of', 'unit', 'scale', 'offset']) all.delete(name);
  // As it is written when it is chosen on the sheet, so that the same lane is not drawn twice.
  const query = [...all].map(([key, value]) => `${key}=${value}`).join('&');
  return { query, ...named, scale, offset };
}

function placeQuery({ bus, id, ext, start, length, byteOrder, signed }: Place): string {
  return `bus=${bus}&id=${id}&ext=${ext}&start=${start}&length=${length}&byteOrder=${byteOrder}&signed=${signed}`;
}
