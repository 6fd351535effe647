/** The table of fields of a message: one is chosen, with pointer or arrow keys; other keys are handed on. */
import { useRef } from 'preact/hooks';
import type { Field } from '../fields.ts';
import { probabilityWords } from '../words.ts';
import { StateWord } from './StateWord.tsx';

interface FieldTableProps {
  fields: Field[];
  chosen: string;
  choose: (mark: string) => void;
  /** A letter was pressed on the chosen field; whether it meant anything. */
  onLetter: (letter: string) => boolean;
}

export function FieldTable({ fields, chosen, choose, onLetter }: FieldTableProps) {
  const body = useRef<HTMLTableSectionElement>(null);
  const at = fields.findIndex((field) => field.mark === chosen);
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: fields.length - 1 }[event.key];
    const target = to === undefined ? undefined : fields[to];
    if (target) {
      choose(target.mark);
      body.current?.querySelectorAll('button')[fields.indexOf(target)]?.focus();
    } else if (!onLetter(event.key)) return;
    event.preventDefault();
  };
  return (
    <table class="fields">
      <thead>
        <tr>
          <th>field</th>
          <th class="n">start</th>
          <th class="n">bits</th>
          <th>order</th>
          <th>kind</th>
          <th>name and rule</th>
          <th class="n">probability</th>
          <th>state</th>
        </tr>
      </thead>
      <tbody ref={body} onKeyDown={onKeyDown}>
        {fields.map((field) => (
          <tr key={field.mark} class={rowClass(field, chosen)} onClick={() => choose(field.mark)}>
            <td>
              <button
                type="button"
                class="mark"
                aria-pressed={field.mark === chosen}
                tabIndex={field.mark === chosen ? 0 : -1}
                aria-label={`Field ${field.mark}, ${field.name || field.kind}`}
              >
                {field.mark}
              </button>
            </td>
            <td class="n">{field.start}</td>
            <td class="n">{field.length}</td>
            <td>{field.length === 1 ? '–' : field.byteOrder}</td>
            <td>
              {field.kind || (field.kept.some(({ capture }) => capture) ? 'kept entry' : 'by hand')}
              {field.selectorValue !== null && ` when ${field.selectorValue}`}
            </td>
            <td>
              {field.name && <b>{field.name} </b>}
              {field.rule}
              {field.signed === true && ', signed'}
              {field.signed === 'magnitude' && ', sign and magnitude'}
            </td>
            <td class="n">{probabilityWords(field.probability)}</td>
            <td>
              <StateWord state={field.state} />
              {field.contradictions.length > 0 && <b class="told"> contradicted</b>}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** What was turned down is struck, and stays in the list. */
function rowClass({ mark, state }: Field, chosen: string): string | undefined {
  return (
    [mark === chosen && 'chosen', state === 'rejected' && 'struck'].filter(Boolean).join(' ') || undefined
  );
}
