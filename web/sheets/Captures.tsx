/** Sheet 2: the recordings of the build. */
import type { ListeningStatus } from '../../src/build/listen/status.ts';
import type { BuildReply } from '../../src/server/api.ts';
import { useLive } from '../data/use.ts';
import { Incoming } from '../parts/Incoming.tsx';
import { Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { addressOf, type Route } from '../route.ts';
import { bytesWords, counted, durationWords, timeWords } from '../words.ts';

export function CapturesSheet({ route, reply }: { route: Route; reply: BuildReply }) {
  const { captures, build } = reply;
  const { recordings } = useLive();
  return (
    <Sheet
      number="2"
      title="Captures"
      words="Captures"
      lead={`${counted(captures.length, 'recording')} in the folder captures/. Each has its own sheet.`}
      route={route}
      build={reply}
    >
      <Section
        notes={
          <Note title="More to each">
            A cue sheet in <code>cues/</code> says what was done when; recordings with cues tell much more
            than recordings without. The command <code>bywright listen</code> records a live bus.
          </Note>
        }
      >
        {recordings.map((recording) => (
          <p key={recording.name} role="status">
            <b>Recording now:</b> {recordingWords(recording, build?.buses ?? [])}
          </p>
        ))}
        {captures.length === 0 ? (
          <p class="quiet">There is none yet.</p>
        ) : (
          <table>
            <thead>
              <tr>
                <th>sheet</th>
                <th>capture</th>
                <th class="n">size</th>
                <th>changed</th>
                <th>cues</th>
                <th>findings</th>
              </tr>
            </thead>
            <tbody>
              {captures.map(({ name, bytes, changed }, i) => {
                const cues =
                  build?.cueSheets.filter((sheet) => sheet.capture === name).flatMap((sheet) => sheet.cues) ??
                  [];
                return (
                  <tr key={name}>
                    <td>2.{i + 1}</td>
                    <th scope="row">
                      <a href={addressOf({ sheet: 'captures', capture: name })}>{name}</a>
                    </th>
                    <td class="n">{bytesWords(bytes)}</td>
                    <td>{timeWords(changed)}</td>
                    <td>{cues.length > 0 ? [...new Set(cues)].join(', ') : '–'}</td>
                    <td>
                      <a href={addressOf({ sheet: 'messages', capture: name, message: null })}>messages</a>
                    </td>
                  </tr>
                );
              })}
            </tbody>
          </table>
        )}
      </Section>
      {build && (
        <Section
          title="Take in a recording"
          notes={
            <Note title="What can be read">
              pcap, pcapng, MDF 4, Parquet, and text of any column order, each also gzipped. What is damaged
              is kept up to the damage, and the notes say what is missing. A file copied into{' '}
              <code>captures/</code> by hand is listed, too.
            </Note>
          }
        >
          <Incoming />
        </Section>
      )}
    </Sheet>
  );
}

type Buses = NonNullable<BuildReply['build']>['buses'];

/** "run.pcapng, 12,345 frames in 61.0 s; chassis 1,234 frames/s, load 25.0 %; on: brake pressed" */
function recordingWords(recording: ListeningStatus, known: Buses): string {
  const buses = recording.buses.map(({ bus, framesPerSecond, bitsPerSecond, errorFrames }) => {
    const named = known.find(({ number }) => number === bus);
    const rate = framesPerSecond === null ? '' : ` ${counted(framesPerSecond, 'frame')}/s`;
    const load =
      bitsPerSecond === null || named === undefined
        ? ''
        : `, load ${((100 * bitsPerSecond) / named.bitRateBps).toFixed(1)} %`;
    const errors = errorFrames === 0 ? '' : `, ${counted(errorFrames, 'error frame')}`;
    return `${named?.name ?? `bus ${bus}`}${rate}${load}${errors}`;
  });
  const cues = recording.openCues.length > 0 ? [`on: ${recording.openCues.join(', ')}`] : [];
  const quiet = recording.quietS >= 3 ? [`quiet for ${durationWords(recording.quietS)}`] : [];
  const head = `${recording.name}, ${counted(recording.frames, 'frame')} in ${durationWords(recording.elapsedS)}`;
  return [head, ...buses, ...cues, ...quiet].join('; ');
}
