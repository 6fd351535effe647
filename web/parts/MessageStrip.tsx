/** The payload strip of a message in either order of bits, one layout of a selector at a time. */
import { type BitLayout, payloadStrip } from '../../src/dossier/figures/index.ts';
import type { FindingsMessageReply } from '../../src/server/api.ts';
import { type Field, stripFields } from '../fields.ts';
import { Figure } from './Figure.tsx';
import { Note, Section } from './Section.tsx';

interface MessageStripProps {
  number: string;
  message: FindingsMessageReply;
  fields: Field[];
  layout: BitLayout;
  turnLayout: () => void;
  /** Values of the selector, and the one whose layout is drawn. */
  values: number[];
  shown: number | 'all';
  ask: (value: number | 'all') => void;
}

export function MessageStrip({
  number,
  message,
  fields,
  layout,
  turnLayout,
  values,
  shown,
  ask,
}: MessageStripProps) {
  const marks = stripFields(fields);
  return (
    <Section
      notes={
        <Note title="Order of the bits">
          {layout === 'falling'
            ? 'Highest bit of each byte first, as sent: a big-endian field is one piece, a little-endian field over several bytes is split and tied by dots.'
            : 'Lowest bit of each byte first: a little-endian field is one piece, a big-endian field over several bytes is split and tied by dots.'}{' '}
          <button type="button" onClick={turnLayout}>
            {layout === 'falling' ? 'Draw the lowest bit first' : 'Draw the highest bit first'}
          </button>
        </Note>
      }
    >
      {values.length > 0 && (
        <p class="choice">
          Layout when the selector is{' '}
          {values.map((value) => (
            <button key={value} type="button" aria-pressed={shown === value} onClick={() => ask(value)}>
              {value}
            </button>
          ))}{' '}
          <button type="button" aria-pressed={shown === 'all'} onClick={() => ask('all')}>
            all at once
          </button>
        </p>
      )}
      <Figure
        number={`${number}-1`}
        draw={(document) =>
          payloadStrip({ name: message.id, flipRate: message.flipRate, fields: marks }, { document, layout })
        }
        data={[message.flipRate, JSON.stringify(marks), layout]}
      >
        Payload strip{shown === 'all' ? '' : `, layout of selector value ${shown}`}. Bar: one bit, its height
        how often the bit changes{values.length > 0 ? ' over all layouts' : ''}; a ring: never. Brackets:
        fields; heavy where accepted, thin where found, dashed where undecided; the triangle stands at the
        most significant bit.
      </Figure>
    </Section>
  );
}
