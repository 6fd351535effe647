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
  return `/api/captures/${encodeURIComponent(capture)}/series?${fieldQuery(message, field)}&points=700`;
}

/** The field as questions about it name it. */
export function fieldQuery(message: FindingsMessageReply, field: Field): string {
  const { bus, id, ext, selector } = message;
  const { start, length, byteOrder, signed, selectorValue } = field;
  const place = `bus=${bus}&id=${id}&ext=${ext}&start=${start}&length=${length}&byteOrder=${byteOrder}&signed=${signed}`;
  if (!selector || selectorValue === null) return place;
  return `${place}&selector=${selector.start}:${selector.length}:${selector.byteOrder}:${selectorValue}`;
}

/** Physical values; a negative scale turns least and greatest round. */
function scaled({ time, low, high }: SeriesReply, { scale, offset }: Field) {
  const physical = (raw: number[]) => raw.map((value) => value * scale + offset);
  const [a, b] = [physical(low), physical(high)];
  return { time, low: scale < 0 ? b : a, high: scale < 0 ? a : b };
}
