/** Sheet 3 B: the signals that followed what was done during a capture, with the chance that they only seem to. */
import type { BuildReply, FollowersReply, TiedSignal } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { Caution, Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { laneAt, laneText } from '../parts/timeline/lanes.ts';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, captureWords, type Route, TOGETHER } from '../route.ts';
import { messageOfSignal, signalPlace, signalTitle } from '../ties.ts';
import { counted } from '../words.ts';

export function CuesSheet({ route, capture, reply }: { route: Route; capture: string; reply: BuildReply }) {
  const followers = useReply<FollowersReply>(`/api/captures/${encodeURIComponent(capture)}/followers`);
  return (
    <Sheet
      number="3.B"
      title="What followed the cues"
      words="Cues"
      lead={`From ${captureWords(capture)}. A signal that moved when something was done may also follow another thing done at the same moments.`}
      route={route}
      build={reply}
    >
      <p>
        <a href={addressOf({ sheet: 'messages', capture, message: null })}>Back to the messages</a>
      </p>
      <Answered reply={followers}>
        {({ cues }) =>
          cues === null ? (
            <p>
              No cue sheet speaks of this recording: note what was done and when on{' '}
              <a href={addressOf({ sheet: 'captures', capture: capture === TOGETHER ? null : capture })}>
                the sheet of the capture
              </a>
              .
            </p>
          ) : (
            cues.map((cue, i) => <Cue key={cue.name} cue={cue} capture={capture} isFirst={i === 0} />)
          )
        }
      </Answered>
    </Sheet>
  );
}

type CueReply = NonNullable<FollowersReply['cues']>[number];

function Cue({ cue, capture, isFirst }: { cue: CueReply; capture: string; isFirst: boolean }) {
  const { name, repeats, open, candidates } = cue;
  return (
    <Section
      title={`${name}, done ${counted(repeats, 'time')}`}
      notes={
        isFirst && (
          <>
            <Note title="Reading the table">
              p: share of shuffled cue sheets under which any signal at all follows as closely. Below 0.05 it
              is worth a look, below 0.01 it is seldom chance. p alone: the same for this signal only.
            </Note>
            <Caution>
              To follow a cue is not to be its cause. Press the same thing again and see it move before you
              accept a name.
            </Caution>
          </>
        )
      }
    >
      {open && <p>{open}</p>}
      {candidates.length === 0 ? (
        <p class="quiet">No signal followed it.</p>
      ) : (
        <div class="wide">
          <table>
            <thead>
              <tr>
                <th class="n">rank</th>
                <th>signal</th>
                <th>follows by</th>
                <th class="n">agreement</th>
                <th class="n">p</th>
                <th class="n">p alone</th>
                <th class="n">lag, s</th>
                <th>evidence</th>
              </tr>
            </thead>
            <tbody>
              {candidates.slice(0, 6).map((candidate) => (
                <tr key={candidate.rank} class={candidate.pValue < 0.05 ? undefined : 'quiet'}>
                  <td class="n">{candidate.rank}</td>
                  <td>
                    <a href={addressOf({ sheet: 'messages', capture, message: messageOfSignal(candidate) })}>
                      {signalTitle(candidate)}
                    </a>
                    , {signalPlace(candidate)}
                    {capture !== TOGETHER && (
                      <>
                        {' '}
                        (<a href={overTime(capture, candidate)}>over time</a>)
                      </>
                    )}
                  </td>
                  <td>{candidate.by === 'value' ? 'its value' : 'moving'}</td>
                  <td class="n">{candidate.agreement.toFixed(2).replace('-', '−')}</td>
                  <td class="n">{chance(candidate.pValue)}</td>
                  <td class="n">{chance(candidate.pAlone)}</td>
                  <td class="n">{candidate.lagS.toFixed(2).replace('-', '−')}</td>
                  <td>{candidate.evidence[0]?.text}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </Section>
  );
}

function overTime(capture: string, signal: TiedSignal): string {
  const lane = laneAt({ ...signal, signed: false });
  return addressOf({ sheet: 'captures', capture, lane: laneText({ ...lane, name: signalTitle(signal) }) });
}

function chance(p: number): string {
  return p < 0.01 ? p.toFixed(3) : p.toFixed(2);
}
