/** Sheet 1: what the build is made of, what is wrong in its files, and what is shown and not shown so far. */
import { buildDrawing } from '../../src/dossier/figures/index.ts';
import type { BuildReply, DictionarySummary } from '../../src/server/api.ts';
import { Figure } from '../parts/Figure.tsx';
import { ProblemSections } from '../parts/Problems.tsx';
import { Caution, Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { StateWord } from '../parts/StateWord.tsx';
import { addressOf, type Route } from '../route.ts';
import { bytesWords, count, figure } from '../words.ts';

type Build = NonNullable<BuildReply['build']>;

export function BuildSheet({ route, reply }: { route: Route; reply: BuildReply }) {
  const { build, problems } = reply;
  return (
    <Sheet
      number="1"
      title={build?.title ?? reply.name}
      words="Build"
      lead={
        build
          ? build.note
          : 'The files of this build cannot be read yet; what stands in the way is listed below.'
      }
      route={route}
      build={reply}
    >
      <ProblemSections problems={problems} />
      {build && <Drawing build={build} />}
      {build && <Host build={build} />}
      {build && <Known build={build} captures={reply.captures} />}
      {build && <Shown build={build} reply={reply} />}
    </Sheet>
  );
}

function Drawing({ build }: { build: Build }) {
  return (
    <Section
      notes={
        <>
          <Note title="Stage">
            This build is at the stage “{build.stage}”. What must be shown before the next one is for the
            engineer who signs for it; the Dossier lists what there is.
          </Note>
          <Caution>
            A by-wire car can kill. This program shows what follows from your files and recordings; it
            approves nothing. Local law, type approval and a licensed engineer decide what may be driven.
          </Caution>
        </>
      }
    >
      <Figure number="1-1" draw={(document) => buildDrawing(build, { document })} data={[build]}>
        Units and buses. Plain outline: part of the host. Double: donor. Heavy: gateway. Cut corners:
        controller. A dot is a connection; a bus that only passes behind a unit is dashed there.
      </Figure>
    </Section>
  );
}

const HOST_WORDS: Record<string, [words: string, unit: string]> = {
  massKg: ['mass, as driven', 'kg'],
  yawInertiaKgm2: ['yaw inertia', 'kg·m²'],
  wheelbaseM: ['wheelbase', 'm'],
  cgToFrontM: ['centre of gravity behind front axle', 'm'],
  frontStiffnessNPerRad: ['cornering stiffness, front axle', 'N/rad'],
  rearStiffnessNPerRad: ['cornering stiffness, rear axle', 'N/rad'],
  steeringRatio: ['steering ratio, wheel to road wheel', ''],
  widthM: ['width without mirrors', 'm'],
};

function Host({ build }: { build: Build }) {
  const rows = Object.entries(build.host).filter(([, value]) => typeof value === 'number') as [
    string,
    number,
  ][];
  return (
    <Section
      title={`Host: ${build.host.name}`}
      notes={
        <Note title="What hangs on these">
          The budget of <a href={addressOf({ sheet: 'guard' })}>the guard</a> is computed from them. Weigh and
          measure where you can; a guessed stiffness gives a guessed budget. They stand in{' '}
          <code>build.yaml</code>.
        </Note>
      }
    >
      <table class="figures">
        <tbody>
          {rows.map(([key, value]) => {
            const [words, unit] = HOST_WORDS[key] ?? [key, ''];
            return (
              <tr key={key}>
                <th scope="row">{words}</th>
                <td class="n">{figure(value)}</td>
                <td>{unit}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </Section>
  );
}

function Known({ build, captures }: { build: Build; captures: BuildReply['captures'] }) {
  return (
    <Section title="Heard and understood">
      <h3>Captures</h3>
      {captures.length === 0 ? (
        <p class="quiet">
          None yet. Put a recording into <code>captures/</code> and it appears here.
        </p>
      ) : (
        <ul class="list">
          {captures.map((capture) => {
            const cues = build.cueSheets
              .filter((sheet) => sheet.capture === capture.name)
              .flatMap((sheet) => sheet.cues);
            return (
              <li key={capture.name}>
                <a href={addressOf({ sheet: 'captures', capture: capture.name })}>{capture.name}</a>,{' '}
                {bytesWords(capture.bytes)}
                {cues.length > 0 && `; cues: ${[...new Set(cues)].join(', ')}`}
              </li>
            );
          })}
        </ul>
      )}
      <h3>Dictionaries</h3>
      {build.dictionaries.length === 0 ? (
        <p class="quiet">Nothing was accepted yet. Findings are accepted on the sheet of their message.</p>
      ) : (
        <DictionaryTable dictionaries={build.dictionaries} />
      )}
    </Section>
  );
}

function DictionaryTable({ dictionaries }: { dictionaries: DictionarySummary[] }) {
  return (
    <table>
      <thead>
        <tr>
          <th>bus</th>
          <th class="n">messages</th>
          <th class="n">counters</th>
          <th class="n">check fields</th>
          <th class="n">signals accepted</th>
          <th class="n">proposed</th>
          <th class="n">rejected</th>
        </tr>
      </thead>
      <tbody>
        {dictionaries.map((d) => (
          <tr key={d.bus}>
            <th scope="row">{d.bus}</th>
            {[d.messages, d.counters, d.checks, d.accepted, d.proposed, d.rejected].map((value, i) => (
              <td class="n" key={i}>
                {count(value)}
              </td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Shown({ build, reply }: { build: Build; reply: BuildReply }) {
  const { proof } = reply;
  const guard = addressOf({ sheet: 'guard' });
  return (
    <Section
      title="Shown and not shown"
      notes={
        proof?.stale && (
          <Note title="Out of date">
            The guard’s program changed after the proof, which says nothing of it as it is now.
          </Note>
        )
      }
    >
      {!build.hasGuard ? (
        <p>
          There is no readable <code>guard.yaml</code>, so nothing bounds the controller and there is nothing
          to show.
        </p>
      ) : proof === null ? (
        <p>
          Nothing about the guard is proved yet: <a href={guard}>go to the guard</a> and prove it.
        </p>
      ) : (
        <table class="figures">
          <tbody>
            {(
              [
                ['proved', proof.proved, 'hold for every input of the gateway'],
                ['failed', proof.failed, 'are broken, with a play-back that shows how'],
                ['notShown', proof.notShown, 'could not be decided'],
                ['vacuous', proof.vacuous, 'hold only because their trigger never comes'],
              ] as const
            )
              .filter(([state, value]) => state === 'proved' || value > 0)
              .map(([state, value, words]) => (
                <tr key={state}>
                  <th scope="row">
                    <StateWord state={state} />
                  </th>
                  <td class="n">{count(value)}</td>
                  <td>
                    <a href={guard}>{words}</a>
                  </td>
                </tr>
              ))}
          </tbody>
        </table>
      )}
      {!build.hasBridge && (
        <p>
          There is no readable <code>bridge.yaml</code>: the gateway passes nothing on.
        </p>
      )}
    </Section>
  );
}
