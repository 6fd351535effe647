/** The chosen field over the time of the capture. */
import { series } from '../../src/dossier/figures/index.ts';
import type { FindingsMessageReply, SeriesReply } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { type Field, labelOf } from '../fields.ts';
import { counted } from '../words.ts';
import { Figure } from './Figure.tsx';
import { Answered } from './Waiting.tsx';

interface FieldSeriesProps {
  number: string;
  capture: string;
  message: FindingsMessageReply;
  field: Field;
}

export function FieldSeries({ number, capture, message, field }: FieldSeriesProps) {
  const reply = useReply<SeriesReply>(seriesPath(capture, message, field));
  return (
    <Answered reply={reply}>
      {(value) => (
        <Figure
          number={number}
          draw={(document) =>
            series(
              { ...scaled(value, field), name: labelOf({ ...field, unit: '' }), unit: field.unit },
              { document },
            )
          }
          data={[value, field.scale, field.offset, labelOf(field)]}
        >
          Field {field.mark} over time, from {counted(value.frames, 'frame')}: least and greatest value of
          each short interval
          {field.scale === 1 && field.offset === 0 && !field.unit ? ', in raw steps' : ''}.
        </Figure>
      )}
    </Answered>
  );
}

export function seriesPath(capture: string, message: FindingsMessageReply, field: Field): string {
  const query = new URLSearchParams({
    bus: String(message.bus),
    id: message.id,
    ext: String(message.ext),
    start: String(field.start),
    length: String(field.length),
    byteOrder: field.byteOrder,
    signed: String(field.signed),
    points: '700',
  });
  const { selector } = message;
  if (selector && field.selectorValue !== null) {
    query.set(
      'selector',
      [selector.start, selector.length, selector.byteOrder, field.selectorValue].join(':'),
    );
  }
  return `/api/captures/${encodeURIComponent(capture)}/series?${query}`;
}

/** Physical values; a negative scale turns least and greatest round. */
function scaled({ time, low, high }: SeriesReply, { scale, offset }: Field) {
  const physical = (raw: number[]) => raw.map((value) => value * scale + offset);
  const [a, b] = [physical(low), physical(high)];
  return { time, low: scale < 0 ? b : a, high: scale < 0 ? a : b };
}
