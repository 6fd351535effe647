/** Relations as a table: the same as the figure, for those who read it. */
import type { RelationsReply, TiedSignal } from '../../src/server/api.ts';
import { delayWords, formulaWords, kindWords, type Relation, signalPlace, signalTitle } from '../ties.ts';
import { figure, probabilityWords } from '../words.ts';

interface RelationTableProps {
  reply: RelationsReply;
  relations: Relation[];
  walk: (to: number) => void;
}

export function RelationTable({ reply, relations, walk }: RelationTableProps) {
  const link = (at: number) => (
    <button
      type="button"
      class="signal"
      onClick={() => walk(at)}
      title={signalPlace(reply.signals[at] as TiedSignal)}
    >
      {signalTitle(reply.signals[at] as TiedSignal)}
    </button>
  );
  return (
    <div class="wide">
      <table class="relations">
        <thead>
          <tr>
            <th>first</th>
            <th>second</th>
            <th>gives</th>
            <th>tie</th>
            <th>raw values</th>
            <th>delay</th>
            <th class="n">r</th>
            <th class="n">probability</th>
          </tr>
        </thead>
        <tbody>
          {relations.map((relation) => (
            <tr key={`${relation.kind} ${relation.from} ${relation.with} ${relation.to}`}>
              <td>{link(relation.from)}</td>
              <td>{relation.with === null ? '–' : link(relation.with)}</td>
              <td>{link(relation.to)}</td>
              <td>{kindWords(relation)}</td>
              <td>{formulaWords(relation)}</td>
              <td>
                {delayWords(relation)}
                {delayWords(relation) !== 'at once' &&
                  ` (${figure(1000 * relation.delayLowS)} … ${figure(1000 * relation.delayHighS)})`}
              </td>
              <td class="n">{relation.r.toFixed(3)}</td>
              <td class="n">{probabilityWords(relation.probability)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
