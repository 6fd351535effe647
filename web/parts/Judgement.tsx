/** Accepting a finding into the dictionary under a name, putting an entry right, or rejecting a finding with a reason. */
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import type {
  AcceptRequest,
  DictionaryReply,
  EditRequest,
  RejectRequest,
  TurnDownRequest,
} from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError } from '../data/use.ts';
import type { Field } from '../fields.ts';
import { FieldInput, FieldSelect } from './FieldInput.tsx';
import { Failure } from './Waiting.tsx';

export type Judging = 'accept' | 'edit' | 'reject';
export type CutChoice = Pick<Field, 'start' | 'length' | 'byteOrder' | 'signed'>;

interface JudgementProps {
  field: Field;
  /** Name from buses.yaml. */
  bus: string;
  capture: string;
  /** The message has a name in the dictionary. */
  named: boolean;
  judging: Judging;
  /** Another cut that was chosen for it. */
  cut: CutChoice | null;
  /** Closes the form; with a sentence where something was done. */
  close: (said?: string) => void;
}

type Body = AcceptRequest | RejectRequest | EditRequest | TurnDownRequest;

const VERB = { accept: 'Accept', edit: 'Put right', reject: 'Reject' } as const;

export function Judgement(props: JudgementProps) {
  const { field, bus, judging, close } = props;
  const [error, setError] = useState<AskError | null>(null);
  const [busy, setBusy] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  // Before the page is painted: keys typed at once would otherwise go to the sheet behind the form.
  useLayoutEffect(() => {
    form.current?.querySelector('input')?.focus();
  }, [judging]);
  const send = async (body: Body) => {
    setBusy(true);
    try {
      const verb = judging === 'reject' && field.key === null ? 'turn-down' : judging;
      await tell<DictionaryReply>(`/api/dictionary/${encodeURIComponent(bus)}/${verb}`, body);
      close(saidOf(judging, field.mark, bus));
    } catch (e) {
      setError(asAskError(e));
      setBusy(false);
    }
  };
  const onSubmit = (event: SubmitEvent) => {
    event.preventDefault();
    const body = bodyOf(props, new FormData(event.currentTarget as HTMLFormElement));
    if (body) void send(body);
  };
  return (
    <form
      ref={form}
      class="judgement"
      aria-label={`${VERB[judging]} field ${field.mark}`}
      onSubmit={onSubmit}
      onKeyDown={(event) => event.key === 'Escape' && close()}
    >
      {judging === 'reject' ? <FieldInput name="reason" label="Reason" wide /> : <EntryInputs {...props} />}
      <p>
        <button type="submit" disabled={busy} class="main">
          {VERB[judging]} {field.mark}
        </button>{' '}
        <button type="button" onClick={() => close()}>
          Back
        </button>
      </p>
      {error && <Failure error={error} />}
    </form>
  );
}

function saidOf(judging: Judging, mark: string, bus: string): string {
  const file = `dictionary/${bus}.yaml`;
  switch (judging) {
    case 'accept':
      return `Field ${mark} is in ${file}, its evidence beside it.`;
    case 'edit':
      return `Field ${mark} is put right in ${file}; its evidence stays beside it.`;
    case 'reject':
      return `Field ${mark} is kept as rejected in ${file}; no capture proposes it again.`;
  }
}

function bodyOf({ field, capture, judging }: JudgementProps, data: FormData): Body | null {
  const text = (name: string) => String(data.get(name) ?? '').trim();
  const number = (name: string) => (text(name) === '' ? undefined : Number(text(name)));
  const { key, entry } = field;
  if (judging === 'reject') {
    const reason = text('reason');
    if (key === null) return entry && { place: entry, ...(reason && { reason }) };
    return { capture, key, ...(reason && { reason }) };
  }
  const sign = text('signed');
  const cut: CutChoice | undefined = data.has('start')
    ? {
        start: Number(text('start')),
        length: Number(text('length')),
        byteOrder: text('byteOrder') === 'big' ? 'big' : 'little',
        signed: sign === 'magnitude' ? sign : sign === 'true',
      }
    : undefined;
  const values = {
    name: text('name') || undefined,
    unit: text('unit') || undefined,
    scale: number('scale'),
    offset: number('offset'),
    note: text('note') || undefined,
  };
  if (judging === 'edit') {
    if (entry === null) return null;
    const { start, length, byteOrder, signed } = field;
    const isSame = cut && same(cut, { start, length, byteOrder, signed });
    const unit = data.has('unit') && text('unit') !== field.unit ? { unit: text('unit') } : {};
    const range = { min: number('min'), max: number('max') };
    return { place: entry, change: given({ ...values, ...range, ...unit, ...(isSame ? {} : cut) }) };
  }
  const isOther = cut && !same(cut, field);
  const messageName = text('messageName') || undefined;
  return key && { capture, key, ...given({ ...values, messageName, cut: isOther ? cut : undefined }) };
}

function same(a: CutChoice, b: CutChoice): boolean {
  return a.start === b.start && a.length === b.length && a.byteOrder === b.byteOrder && a.signed === b.signed;
}

function given<T extends object>(values: T): Partial<T> {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as Partial<T>;
}

function EntryInputs({ field, named, judging, cut }: JudgementProps) {
  const isSignal = judging === 'edit' || field.key?.field === 'signal';
  const { start, length, byteOrder, signed } = cut ?? field;
  return (
    <div class="inputs">
      {isSignal && (
        <>
          <FieldInput name="name" label="Name of the signal" value={field.name} required />
          <FieldInput name="unit" label="Unit" value={field.unit} />
          <FieldInput name="scale" label="Scale" type="number" value={String(field.scale)} />
          <FieldInput name="offset" label="Offset" type="number" value={String(field.offset)} />
        </>
      )}
      {judging === 'edit' && (
        <>
          <FieldInput name="min" label="Not believed below" type="number" value={field.min?.toString()} />
          <FieldInput name="max" label="Not believed above" type="number" value={field.max?.toString()} />
        </>
      )}
      {judging === 'accept' && !named && (
        <FieldInput name="messageName" label="Name of the message, new in the dictionary" wide />
      )}
      {isSignal && (
        <fieldset class="wide cut">
          <legend>Cut{cut ? ', another than found' : ''}</legend>
          <FieldInput name="start" label="Start bit" type="number" value={String(start)} required />
          <FieldInput name="length" label="Bits" type="number" value={String(length)} required />
          <FieldSelect
            name="byteOrder"
            label="Order"
            value={byteOrder}
            choices={[
              ['little', 'little-endian'],
              ['big', 'big-endian'],
            ]}
          />
          <FieldSelect
            name="signed"
            label="Sign"
            value={String(signed)}
            choices={[
              ['false', 'none'],
              ['true', 'two’s complement'],
              ['magnitude', 'sign and magnitude'],
            ]}
          />
        </fieldset>
      )}
      {isSignal && <FieldInput name="note" label="Note" wide />}
    </div>
  );
}
