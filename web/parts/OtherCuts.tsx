/** Other cuts of a field with how each of them moves, so that a person can choose where the finding is not sure. */
import type { CutsReply, FindingsMessageReply } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import type { Field } from '../fields.ts';
import { count, figure } from '../words.ts';
import { fieldQuery } from './FieldSeries.tsx';
import type { CutChoice } from './Judgement.tsx';
import { Answered } from './Waiting.tsx';

interface OtherCutsProps {
  capture: string;
  message: FindingsMessageReply;
  field: Field;
  choose: (cut: CutChoice) => void;
}

export function OtherCuts({ capture, message, field, choose }: OtherCutsProps) {
  const query = fieldQuery(message, field);
  const reply = useReply<CutsReply>(`/api/captures/${encodeURIComponent(capture)}/cuts?${query}`);
  return (
    <Answered reply={reply}>
      {({ cuts }) => (
        <div class="wide">
          <table class="cuts">
            <caption>
              Field {field.mark} cut otherwise. A number that is cut right moves in small steps; one that is
              cut wrong jumps over half of all that it can hold. Counts only: the choice is yours.
            </caption>
            <thead>
              <tr>
                <th>cut</th>
                <th class="n">start</th>
                <th class="n">bits</th>
                <th>order</th>
                <th>sign</th>
                <th class="n">least … greatest</th>
                <th class="n">jumps</th>
                <th class="n">mean step, % of range</th>
                <th />
              </tr>
            </thead>
            <tbody>
              {cuts.map((cut, i) => (
                <tr key={`${cut.words} ${cut.start}`}>
                  <th scope="row">{cut.words}</th>
                  <td class="n">{cut.start}</td>
                  <td class="n">{cut.length}</td>
                  <td>{cut.length === 1 ? '–' : cut.byteOrder}</td>
                  <td>
                    {cut.signed === false ? 'none' : cut.signed === true ? 'two’s compl.' : 'magnitude'}
                  </td>
                  <td class="n">
                    {figure(cut.low)} … {figure(cut.high)}
                  </td>
                  <td class="n">
                    {count(cut.jumps)} of {count(cut.steps)}
                  </td>
                  <td class="n">{cut.roughness === null ? '–' : figure(100 * cut.roughness)}</td>
                  <td>
                    {i > 0 && (
                      <button
                        type="button"
                        onClick={() => choose(cut)}
                        aria-label={`Take the cut ${cut.words}`}
                      >
                        Take …
                      </button>
                    )}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </Answered>
  );
}
