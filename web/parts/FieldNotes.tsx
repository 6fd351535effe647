/** The margin beside the fields of a message: what contradicts the chosen one, its evidence, what is open, the keys. */
import type { Field } from '../fields.ts';
import { labelOf } from '../fields.ts';
import { sentence } from '../words.ts';
import { Caution, Note } from './Section.tsx';

interface FieldNotesProps {
  field: Field;
  open: string[];
  /** What captures show against the message as a whole. */
  contradictions: string[];
}

export function FieldNotes({ field, open, contradictions }: FieldNotesProps) {
  const against = [...field.contradictions, ...contradictions];
  return (
    <>
      {against.length > 0 && (
        <Caution>
          <span class="unseen">Contradicted: </span>
          {against.map((text) => (
            <p key={text} class="against">
              {sentence(text)}
            </p>
          ))}
        </Caution>
      )}
      <Note title={`Evidence for ${field.mark}, ${labelOf(field)}`}>
        {field.evidence.length === 0 ? (
          'Nothing was found there in this capture.'
        ) : (
          <List texts={field.evidence.map(({ text }) => text)} />
        )}
      </Note>
      {field.kept.length > 0 && (
        <Note title={`Kept when it was ${field.state === 'rejected' ? 'rejected' : 'accepted'}`}>
          <List texts={field.kept.map(({ text, capture }) => (capture ? `${capture}: ${text}` : text))} />
        </Note>
      )}
      {open.length > 0 && (
        <Note title="What would settle the rest">
          <List texts={open} />
        </Note>
      )}
      <Note title="Keys">
        In the table: <kbd>↑</kbd> <kbd>↓</kbd> choose a field, <kbd>a</kbd> accept it, <kbd>e</kbd> put it
        right, <kbd>r</kbd> reject it, <kbd>b</kbd> take a rejection back, <kbd>u</kbd> undo the last change,{' '}
        <kbd>c</kbd> other cuts, <kbd>o</kbd> order of the bits, <kbd>t</kbd> over time, <kbd>g</kbd> its
        relations, <kbd>p</kbd> <kbd>n</kbd> message before and next. <kbd>Esc</kbd> goes back.
      </Note>
      <Caution>
        A wrong field feeds a wrong limit. Confirm sign, scale and zero on the stand, wheels off the ground,
        before any power stage is connected.
      </Caution>
    </>
  );
}

function List({ texts }: { texts: string[] }) {
  return (
    <ul>
      {texts.map((text) => (
        <li key={text}>{text}</li>
      ))}
    </ul>
  );
}
