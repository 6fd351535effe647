/** Sheet 2.n: one recording: over time with its cues, how it was read, how full the buses were, and its census of messages. */
import { useState } from 'preact/hooks';
import { busLoad, periodMark, periodScale } from '../../src/dossier/figures/index.ts';
import type { BuildReply, CaptureReply, LoadReply } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { Drawing, Figure } from '../parts/Figure.tsx';
import { ReferenceAlignment } from '../parts/ReferenceAlignment.tsx';
import { Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { WholeRecording } from '../parts/timeline/WholeRecording.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, type Route } from '../route.ts';
import { bytesWords, count, counted, durationWords, milliseconds, timeWords } from '../words.ts';

interface CaptureSheetProps {
  route: Extract<Route, { sheet: 'captures' }>;
  name: string;
  reply: BuildReply;
}

export function CaptureSheet({ route, name, reply }: CaptureSheetProps) {
  const path = `/api/captures/${encodeURIComponent(name)}`;
  const at = reply.captures.findIndex((file) => file.name === name);
  const number = at < 0 ? '2' : `2.${at + 1}`;
  // The recording itself comes first; counting through all of it may take some seconds more.
  const [isDrawn, setDrawn] = useState(false);
  const capture = useReply<CaptureReply>(isDrawn ? path : null);
  const load = useReply<LoadReply>(isDrawn ? `${path}/load?bins=240` : null);
  return (
    <Sheet
      number={number}
      title={`Capture ${name}`}
      words={name}
      lead={capture.state === 'here' ? leadOf(capture.value) : undefined}
      route={route}
      build={reply}
    >
      <WholeRecording
        key={fileMark(reply, name)}
        number={`${number}-1`}
        capture={name}
        build={reply}
        lane={route.lane ?? null}
        drawn={() => setDrawn(true)}
      />
      <Answered reply={capture}>
        {(value) => (
          <>
            <Section notes={<Reading capture={value} />}>
              <Answered reply={load}>
                {(bins) => (
                  <Figure
                    number={`${number}-2`}
                    draw={(document) => busLoad(loadData(bins), { document })}
                    data={[bins]}
                  >
                    Bus load, with stuff bits and the space between frames, in intervals of{' '}
                    {bins.binSeconds.toPrecision(2)} s.
                  </Figure>
                )}
              </Answered>
            </Section>
            <ReferenceAlignment number={`${number}-3`} capture={name} />
            <Census capture={value} />
          </>
        )}
      </Answered>
    </Sheet>
  );
}

/** Another mark and it is another recording: its axis begins anew. */
function fileMark(reply: BuildReply, name: string): string {
  const file = reply.captures.find((capture) => capture.name === name);
  return `${name} ${file?.bytes} ${file?.changed}`;
}

function leadOf({ frames, seconds, buses, messages }: CaptureReply): string {
  return `${counted(frames, 'frame')} in ${durationWords(seconds)}, ${counted(messages.length, 'message')} on ${counted(buses.length, 'bus', 'buses')}.`;
}

function loadData({ binSeconds, start, buses }: LoadReply) {
  return {
    binSeconds,
    start,
    buses: buses.map(({ bus, name, bitRateBps, bitsPerSecond }) => ({
      name: name ?? `bus ${bus}`,
      bitRateBps,
      bitsPerSecond,
    })),
  };
}

function Reading({ capture }: { capture: CaptureReply }) {
  const unnamed = capture.buses.filter(({ name }) => name === null);
  return (
    <>
      <Note title="Read as">
        {capture.format}; {bytesWords(capture.bytes)};{' '}
        {capture.origin ? `first frame ${timeWords(capture.origin)}` : 'times relative to the first frame'}.
      </Note>
      {capture.notes.length > 0 && (
        <Note title="Noticed while reading">
          <ul>
            {capture.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </Note>
      )}
      {unnamed.length > 0 && (
        <Note title="Buses without a name">
          Number {unnamed.map(({ bus }) => bus).join(', ')} of the recording is in no line of{' '}
          <code>buses.yaml</code>; without its bit rate the load is in kbit/s, and nothing of it can be
          accepted.
        </Note>
      )}
      <Note title="File">
        SHA-256 <code title={capture.hash}>{capture.hash.slice(0, 16)}…</code>
      </Note>
    </>
  );
}

function Census({ capture }: { capture: CaptureReply }) {
  return (
    <Section
      title="Census"
      notes={
        <>
          <Note title="Rhythm">
            A bar at the middle gap between frames, as wide as the jitter: how far half of the gaps stay from
            it, scaled to a standard deviation. Fewer than three frames give neither.
          </Note>
          <Note title="What they mean">
            <a href={addressOf({ sheet: 'messages', capture: capture.name, message: null })}>Messages</a>{' '}
            works out the fields of each.
          </Note>
        </>
      }
    >
      {capture.buses.map(({ bus, name, bitRateBps, frames }) => (
        <section key={bus}>
          <h3>
            Bus {name ?? bus}
            {bitRateBps !== null && `, ${bitRateBps / 1000} kbit/s`}, {counted(frames, 'frame')}
          </h3>
          <BusCensus capture={capture} bus={bus} />
        </section>
      ))}
    </Section>
  );
}

function BusCensus({ capture, bus }: { capture: CaptureReply; bus: number }) {
  return (
    <table class="census">
      <thead>
        <tr>
          <th>message</th>
          <th>name</th>
          <th class="n">frames</th>
          <th class="n">bytes</th>
          <th>
            <span class="unseen">rhythm</span>
            <Drawing draw={(document) => periodScale({ document })} data={[]} />
          </th>
          <th class="n">period, ms</th>
          <th class="n">jitter, ms</th>
        </tr>
      </thead>
      <tbody>
        {capture.messages
          .filter((message) => message.bus === bus)
          .map(({ id, ext, dictionaryName, frames, length, periodMs, jitterMs }) => (
            <tr key={`${id} ${ext}`}>
              <th scope="row">
                <a href={addressOf({ sheet: 'messages', capture: capture.name, message: { bus, id, ext } })}>
                  <code>{id}</code>
                </a>
              </th>
              <td>{dictionaryName ?? '–'}</td>
              <td class="n">{count(frames)}</td>
              <td class="n">{length}</td>
              <td class="rhythm">
                <Drawing
                  draw={(document) => periodMark({ name: id, periodMs, jitterMs }, { document })}
                  data={[periodMs, jitterMs]}
                />
              </td>
              <td class="n">{milliseconds(periodMs)}</td>
              <td class="n">{milliseconds(jitterMs)}</td>
            </tr>
          ))}
      </tbody>
    </table>
  );
}
