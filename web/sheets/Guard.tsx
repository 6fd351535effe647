/** Sheet 4: what bounds the controller: limits over the budget, obligations and how they stand, counterexamples. */
import { useState } from 'preact/hooks';
import { handover, limitCrossings, limitOverBudget } from '../../src/dossier/figures/index.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import type { BudgetForm, BuildReply, GuardReply, JobReply, ProofForm } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { noteJob } from '../data/live.ts';
import { asAskError, useLive, useReply } from '../data/use.ts';
import { handoverData } from '../handoverData.ts';
import { limitsOf, marginWords } from '../limits.ts';
import { obligationGroups } from '../obligations.ts';
import { Counterexample } from '../parts/Counterexample.tsx';
import { Figure, figureId } from '../parts/Figure.tsx';
import { HandBenchPart } from '../parts/HandBench.tsx';
import { ProblemSections } from '../parts/Problems.tsx';
import { Caution, Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { StateWord } from '../parts/StateWord.tsx';
import { Answered, Failure, JobLine } from '../parts/Waiting.tsx';
import type { Route } from '../route.ts';
import { counted, figure, sentence, timeWords } from '../words.ts';

export function GuardSheet({ route, reply }: { route: Route; reply: BuildReply }) {
  const guard = useReply<GuardReply>('/api/guard');
  return (
    <Sheet
      number="4"
      title="Guard"
      words="Guard"
      lead="What the controller can never do, whatever it asks for; and how a driver takes the car back."
      route={route}
      build={reply}
    >
      <Answered reply={guard}>
        {(value) => (
          <>
            <ProblemSections problems={value.problems} />
            {value.plan === null && (
              <p>
                This build has no readable <code>guard.yaml</code>: nothing bounds the controller.
              </p>
            )}
            {value.plan && <Handover plan={value.plan} />}
            {value.plan && <Limits guard={value} />}
            {value.plan && <Proof guard={value} />}
            {value.plan && <HandBenchPart plan={value.plan} stepMs={value.stepMs} number="4-9" />}
            {value.proof && <Counterexamples proof={value.proof} />}
          </>
        )}
      </Answered>
    </Sheet>
  );
}

function Handover({ plan }: { plan: GuardPlan }) {
  const h = plan.handover;
  return (
    <Section
      title="Handing over and taking back"
      notes={
        <Note title="Times">
          Conditions hold for {figure(h.armHoldMs)} ms before the guard is ready. After a release or a trip
          every order is at zero within {figure(h.releaseMs)} ms, drive at once.
        </Note>
      }
    >
      <Figure number="4-0" draw={(document) => handover(handoverData(plan), { document })} data={[plan]}>
        The guard’s modes and the ways between them. A trip waits for a press; the stop input trips from
        anywhere.
      </Figure>
    </Section>
  );
}

function Limits({ guard }: { guard: GuardReply }) {
  const { plan, budget } = guard;
  if (plan === null) return null;
  if (budget === null) {
    return (
      <Section title="Limits under the budget">
        <p role="alert">{sentence(guard.budgetError ?? 'the budget could not be computed')}</p>
      </Section>
    );
  }
  return (
    <>
      {budget.channels.map((channel, i) => (
        <ChannelLimits key={channel.channel} plan={plan} budget={channel} first={2 * i + 1} />
      ))}
      {budget.missing.map(({ channel, why }) => (
        <Section key={channel} title={`Limits for ${channel}`}>
          <p>No budget: {why}. Nothing bounds these tables but the person who wrote them.</p>
        </Section>
      ))}
    </>
  );
}

function ChannelLimits({
  plan,
  budget,
  first,
}: {
  plan: GuardPlan;
  budget: BudgetForm['channels'][number];
  first: number;
}) {
  const limits = limitsOf(plan, budget);
  const over = limits.filter(({ rows }) => rows.some((row) => row.limit > row.budget));
  return (
    <Section
      title={`Limits for ${budget.channel} under the budget`}
      notes={
        <>
          <Note title="The budget">{budgetWords(plan, budget.channel)}</Note>
          <Note title="Closest">{marginWords(budget)}</Note>
          {over.length > 0 ? (
            <Caution>
              The {over.map(({ quantity }) => quantity).join(' and ')} table allows more than the budget. A
              driver who reacts as written above would not have the car back in time. Lower the table in{' '}
              <code>guard.yaml</code>.
            </Caution>
          ) : (
            <Caution>
              Under the budget means: for the figures in <code>build.yaml</code> and <code>guard.yaml</code>,
              and a driver as quick as written. Tyres, load, road and a startled driver can be worse.
            </Caution>
          )}
        </>
      }
    >
      {limits.map((data, i) => (
        <Figure
          key={data.quantity}
          number={`4-${first + i}`}
          draw={(document) => limitOverBudget(data, { document })}
          data={[data]}
        >
          {data.quantity === 'level'
            ? `Level: the most that is ordered, ${budget.quantity}.`
            : 'Slew: fastest change of the order.'}{' '}
          {limitCrossings(data.rows).length === 0
            ? 'Shaded: the budget.'
            : 'Heavy: where the table is over the budget.'}
        </Figure>
      ))}
    </Section>
  );
}

/** What the budget of a channel counts on, in one sentence. */
function budgetWords({ budget: b }: GuardPlan, channel: BudgetForm['channels'][number]['channel']): string {
  const time = `for ${figure(b.reactionTimeS)} s of the driver’s reaction${
    b.detectionTimeS > 0 ? ` and ${figure(b.detectionTimeS)} s until the guard notices` : ''
  }`;
  if (channel === 'braking')
    return `With the brake at its limit ${time}, a car ${figure(b.following?.gapS ?? 0)} s behind, braking with ${figure(b.following?.decelerationMps2 ?? 0)} m/s² after ${figure(b.following?.reactionTimeS ?? 0)} s, does not close the gap.`;
  if (channel === 'drive')
    return `With the drive at its limit ${time}, the car gains at most ${figure(b.drive?.speedGainMps ?? 0)} m/s and ${figure(b.drive?.distanceM ?? 0)} m before it is braked away.`;
  const bend =
    b.bendAccelerationMps2 === undefined
      ? 'out of any bend that the level can hold'
      : b.bendAccelerationMps2 === 0
        ? 'from straight ahead'
        : `out of bends of up to ${figure(b.bendAccelerationMps2)} m/s²`;
  return `With the actuator running to its limit ${bend}, ${time}, the car stays within ${figure(b.lateralDistanceM)} m, ${figure(b.lateralAccelerationMps2)} m/s² and ${figure(b.lateralJerkMps3)} m/s³.`;
}

function Proof({ guard }: { guard: GuardReply }) {
  const { proof, proofStale } = guard;
  const { jobs } = useLive();
  const [asked, setAsked] = useState<string | null>(null);
  const [error, setError] = useState<AskError | null>(null);
  const latest = [...jobs.values()]
    .reverse()
    .find((job) => job.kind === 'proof' && (job.state === 'running' || job.id === asked));
  const prove = () =>
    tell<JobReply>('/api/prove', {}).then(
      ({ job }) => {
        noteJob(job);
        setAsked(job.id);
        setError(null);
      },
      (e) => setError(asAskError(e)),
    );
  return (
    <Section
      title="Obligations"
      notes={
        <>
          <Note title="What proved means">
            True at every step for every input that the buses, the pins and the clock can bring, for the
            program that the generated C computes. It speaks of that program: not of the parts, the wiring, or
            figures that were entered wrong.
          </Note>
          {proof && (
            <Note title="This proof">
              Made {timeWords(proof.at)}, of program <code>{proof.hash.slice(0, 12)}</code>, in{' '}
              {figure(proof.obligations.reduce((sum, { seconds }) => sum + seconds, 0))} s.{' '}
              {proof.remembered
                ? `${counted(proof.remembered, 'verdict')} of the solver came from an earlier proof; firmware that may arm needs “bywright prove --fresh”.`
                : ''}{' '}
              {proof.strength
                ? `Of ${counted(proof.strength.mutants, 'guard')} changed in one small way, ${proof.strength.refuted} broke an obligation and ${proof.strength.equivalent} changed nothing${proof.strength.undecided > 0 ? `; ${proof.strength.undecided} undecided` : ''}.`
                : ''}
            </Note>
          )}
          {proofStale && (
            <Caution>
              The program changed after this proof. Nothing below holds for it as it is now: prove it again.
            </Caution>
          )}
        </>
      }
    >
      {latest?.state === 'running' ? (
        <JobLine job={latest} />
      ) : (
        <p class="actions">
          {proof ? standing(proof) : 'Nothing is proved yet.'}{' '}
          <button type="button" onClick={prove}>
            {proof ? 'Prove again' : 'Prove'}
          </button>
        </p>
      )}
      {latest?.state === 'cancelled' && (
        <p>The proof was stopped on request; what stood before still stands.</p>
      )}
      {latest?.state === 'failed' && <p role="alert">{sentence(latest.error ?? 'the proof failed')}</p>}
      {error && <Failure error={error} />}
      {proof && <Obligations proof={proof} />}
    </Section>
  );
}

function standing({ obligations }: ProofForm): string {
  const proved = obligations.filter(({ status }) => status === 'proved').length;
  return `${proved} of ${counted(obligations.length, 'obligation')} proved.`;
}

function Obligations({ proof }: { proof: ProofForm }) {
  return (
    <table class="obligations">
      <thead>
        <tr>
          <th>obligation</th>
          <th>in words</th>
          <th class="n">s</th>
          <th>state</th>
        </tr>
      </thead>
      {obligationGroups(proof.obligations).map(({ title, obligations }) => (
        <tbody key={title}>
          {title && (
            <tr class="group">
              <th colSpan={4} scope="rowgroup">
                {title}
              </th>
            </tr>
          )}
          {obligations.map(({ name, sentence: words, status, seconds, note, counterexample }) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td>
                {words}
                {note && <span class="quiet"> {sentence(note)}</span>}
                {counterexample && <PlayBackLink number={playBackNumber(proof, name)} />}
              </td>
              <td class="n">{seconds < 0.05 ? '< 0.1' : seconds.toFixed(1)}</td>
              <td>
                <StateWord state={status} />
              </td>
            </tr>
          ))}
        </tbody>
      ))}
    </table>
  );
}

/** Leads to the play-back further down; an address behind the # names a sheet, not a place in it. */
function PlayBackLink({ number }: { number: string }) {
  const show = () => document.getElementById(figureId(number))?.scrollIntoView({ block: 'center' });
  return (
    <>
      {' '}
      <button type="button" onClick={show}>
        See Fig. {number}
      </button>
    </>
  );
}

function withPlayBack({ obligations }: ProofForm): ProofForm['obligations'] {
  return obligations.filter(({ counterexample }) => counterexample !== null);
}

/** Play-backs are numbered after the two figures of the limits. */
function playBackNumber(proof: ProofForm, name: string): string {
  return `4-${withPlayBack(proof).findIndex((o) => o.name === name) + 3}`;
}

function Counterexamples({ proof }: { proof: ProofForm }) {
  return (
    <>
      {withPlayBack(proof).map(({ name, counterexample }) => (
        <Counterexample
          key={name}
          number={playBackNumber(proof, name)}
          file={counterexample as string}
          name={name}
        />
      ))}
    </>
  );
}
