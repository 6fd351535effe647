/** Accepting a finding into the dictionary, under a name, or rejecting it with a reason. */
import { useEffect, useId, useRef, useState } from 'preact/hooks';
import type { AcceptRequest, DictionaryReply, RejectRequest } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError } from '../data/use.ts';
import type { Field } from '../fields.ts';
import { labelOf } from '../fields.ts';
import { Failure } from './Waiting.tsx';

interface JudgementProps {
  field: Field;
  /** Name from buses.yaml, null where it has none. */
  bus: string | null;
  capture: string;
  /** The message has a name in the dictionary. */
  named: boolean;
  judging: 'accept' | 'reject' | null;
  setJudging: (as: 'accept' | 'reject' | null) => void;
  say: (sentence: string) => void;
}

export function Judgement(props: JudgementProps) {
  const { field, bus, capture, judging, setJudging, say } = props;
  const [error, setError] = useState<AskError | null>(null);
  const [busy, setBusy] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => {
    if (judging) form.current?.querySelector('input')?.focus();
  }, [judging]);
  const { key } = field;
  if (key === null)
    return (
      <p class="quiet">Field {field.mark} was written into the dictionary by hand; it is changed there.</p>
    );
  if (bus === null) {
    return (
      <p class="quiet">
        This bus has no name yet: give its number a line in <code>buses.yaml</code>, and findings on it can be
        accepted.
      </p>
    );
  }
  const send = async (verb: 'accept' | 'reject', body: AcceptRequest | RejectRequest) => {
    setBusy(true);
    try {
      await tell<DictionaryReply>(`/api/dictionary/${encodeURIComponent(bus)}/${verb}`, body);
      say(
        verb === 'accept'
          ? `Field ${field.mark} is in dictionary/${bus}.yaml, its evidence beside it.`
          : `Field ${field.mark} is kept as rejected in dictionary/${bus}.yaml and is not proposed again.`,
      );
      setJudging(null);
    } catch (e) {
      setError(asAskError(e));
    } finally {
      setBusy(false);
    }
  };
  const onSubmit = (event: SubmitEvent) => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(data.get(name) ?? '').trim();
    if (judging === 'reject') {
      const reason = text('reason');
      return void send('reject', { capture, key, ...(reason && { reason }) });
    }
    const number = (name: string) => (text(name) === '' ? undefined : Number(text(name)));
    const filled = {
      name: text('name') || undefined,
      messageName: text('messageName') || undefined,
      unit: text('unit') || undefined,
      scale: number('scale'),
      offset: number('offset'),
      note: text('note') || undefined,
    };
    const given = Object.fromEntries(Object.entries(filled).filter(([, value]) => value !== undefined));
    return void send('accept', { capture, key, ...given });
  };
  if (judging === null) {
    return (
      <p class="actions">
        Field <b>{field.mark}</b>, {labelOf(field)}:{' '}
        <button type="button" onClick={() => setJudging('accept')}>
          Accept …
        </button>{' '}
        <button type="button" onClick={() => setJudging('reject')}>
          Reject …
        </button>
      </p>
    );
  }
  return (
    <form
      ref={form}
      class="judgement"
      aria-label={`${judging === 'accept' ? 'Accept' : 'Reject'} field ${field.mark}`}
      onSubmit={onSubmit}
      onKeyDown={(event) => event.key === 'Escape' && setJudging(null)}
    >
      {judging === 'accept' ? <AcceptInputs {...props} /> : <Input name="reason" label="Reason" wide />}
      <p>
        <button type="submit" disabled={busy} class="main">
          {judging === 'accept' ? `Accept ${field.mark}` : `Reject ${field.mark}`}
        </button>{' '}
        <button type="button" onClick={() => setJudging(null)}>
          Back
        </button>
      </p>
      {error && <Failure error={error} />}
    </form>
  );
}

function AcceptInputs({ field, named }: JudgementProps) {
  const signal = field.key?.field === 'signal';
  return (
    <div class="inputs">
      {signal && (
        <>
          <Input name="name" label="Name of the signal" value={field.name} required />
          <Input name="unit" label="Unit" value={field.unit} />
          <Input name="scale" label="Scale" type="number" value={String(field.scale)} />
          <Input name="offset" label="Offset" type="number" value={String(field.offset)} />
        </>
      )}
      {!named && <Input name="messageName" label="Name of the message, new in the dictionary" />}
      {signal && <Input name="note" label="Note" wide />}
    </div>
  );
}

interface InputProps {
  name: string;
  label: string;
  value?: string;
  type?: 'text' | 'number';
  required?: true;
  wide?: true;
}

function Input({ name, label, value = '', type = 'text', required, wide }: InputProps) {
  const id = useId();
  const common = { id, name, defaultValue: value, required };
  return (
    <label htmlFor={id} class={wide ? 'wide' : undefined}>
      {label}
      {type === 'number' ? <input type="number" step="any" {...common} /> : <input {...common} />}
    </label>
  );
}
