/** What stands on a sheet while there is no answer: waiting, work in progress, or why there is none. */
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { Job } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError, type Reply } from '../data/use.ts';
import { sentence } from '../words.ts';
import { Problems } from './Problems.tsx';

/** Shows the children with the answer when it is there. */
export function Answered<T>({
  reply,
  children,
}: {
  reply: Reply<T>;
  children: (value: T) => ComponentChildren;
}) {
  switch (reply.state) {
    case 'here':
      return <>{children(reply.value)}</>;
    case 'waiting':
      return <p class="quiet">Reading …</p>;
    case 'working':
      return <JobLine job={reply.job} />;
    case 'stopped':
      return (
        <p>
          Stopped on request.{' '}
          <button type="button" onClick={reply.again}>
            Start again
          </button>
        </p>
      );
    case 'error':
      return <Failure error={reply.error} />;
  }
}

export function Failure({ error }: { error: AskError }) {
  return (
    <div role="alert" class="failure">
      <p>{sentence(error.message)}</p>
      {error.problems.length > 0 && <Problems problems={error.problems} />}
    </div>
  );
}

/** A job with how far it is, and the way to stop it. */
export function JobLine({ job }: { job: Job }) {
  const [error, setError] = useState<AskError | null>(null);
  const percent = Math.round(100 * job.fraction);
  const subject = job.subject === '*' ? 'all captures' : job.subject;
  const what = {
    proof: 'Proving',
    findings: `Working out ${subject}`,
    relations: `Relations in ${subject}`,
    cues: `Cues of ${subject}`,
    retest: 'Holding accepted entries against the captures',
    reading: `Reading ${subject}`,
  }[job.kind];
  const stop = () =>
    tell(`/api/cancel/${encodeURIComponent(job.id)}`, {}).then(
      () => setError(null),
      (e) => setError(asAskError(e)),
    );
  return (
    <div class="job">
      <p>
        {what}: {job.note || 'starting'}, {percent} %{' '}
        <button type="button" onClick={stop}>
          Stop
        </button>
      </p>
      <div
        class="rule"
        role="progressbar"
        aria-label={what}
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuenow={percent}
        aria-valuetext={`${percent} %, ${job.note}`}
      >
        <div style={{ width: `${percent}%` }} />
      </div>
      {error && <Failure error={error} />}
    </div>
  );
}
