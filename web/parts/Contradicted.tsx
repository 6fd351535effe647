/** What captures show against accepted entries, above the list of messages. */
import type { BuildReply, RetestReply } from '../../src/server/api.ts';
import type { Reply } from '../data/use.ts';
import { addressOf } from '../route.ts';
import { counted } from '../words.ts';
import { Answered } from './Waiting.tsx';

interface ContradictedProps {
  retest: Reply<RetestReply>;
  reply: BuildReply;
}

export function Contradicted({ retest, reply }: ContradictedProps) {
  return (
    <Answered reply={retest}>
      {({ contradictions, left }) => (
        <>
          {contradictions.length > 0 && (
            <div class="caution contradicted" role="note">
              <b>{counted(contradictions.length, 'contradiction')}</b>
              The entry is wrong, or something was done in the capture that it has to allow for.
              <ul>
                {contradictions.map((c) => {
                  const bus = reply.build?.buses.find(({ name }) => name === c.bus)?.number;
                  const words = `${c.id} ${c.message}${c.name ? `, ${c.name}` : c.field === 'message' ? '' : `, ${c.field}`}`;
                  return (
                    <li key={`${c.bus} ${c.id} ${c.name} ${c.text}`}>
                      {bus !== undefined ? (
                        <a
                          href={addressOf({
                            sheet: 'messages',
                            capture: c.capture,
                            message: { bus, id: c.id, ext: c.ext },
                          })}
                        >
                          {words}
                        </a>
                      ) : (
                        words
                      )}
                      : {c.text}
                    </li>
                  );
                })}
              </ul>
            </div>
          )}
          {left.map(({ name, why }) => (
            <p key={name} class="quiet">
              {name} was left out: {why}
            </p>
          ))}
        </>
      )}
    </Answered>
  );
}
