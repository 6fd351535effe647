/** The payload strip of a message, the table of its fields, and what is done with the chosen one. */
import { useRef, useState } from 'preact/hooks';
import type { BitLayout } from '../../src/dossier/figures/index.ts';
import type { DictionaryReply, FindingsMessageReply } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError } from '../data/use.ts';
import { DECIDED, type Field, labelOf } from '../fields.ts';
import { addressOf, TOGETHER } from '../route.ts';
import { FieldNotes } from './FieldNotes.tsx';
import { FieldSeries, fieldQuery } from './FieldSeries.tsx';
import { FieldTable } from './FieldTable.tsx';
import { type CutChoice, Judgement, type Judging } from './Judgement.tsx';
import { MessageStrip } from './MessageStrip.tsx';
import { OtherCuts } from './OtherCuts.tsx';
import { Section } from './Section.tsx';
import { laneText } from './timeline/lanes.ts';
import { Failure } from './Waiting.tsx';

interface MessageFieldsProps {
  number: string;
  capture: string;
  message: FindingsMessageReply;
  fields: Field[];
  /** Changes of the dictionary that can be taken back. */
  undo: number;
  /** What captures show against the message as a whole. */
  contradictions: string[];
  /** Goes to the sheet before (−1) or after (1). */
  turn: (by: -1 | 1) => void;
}

export function MessageFields(props: MessageFieldsProps) {
  const { number, capture, message, fields, undo, contradictions, turn } = props;
  const [layout, setLayout] = useState<BitLayout>('falling');
  const [at, setAt] = useState(() => placeOf(firstTelling(fields)));
  const [judging, setJudging] = useState<{ as: Judging; cut: CutChoice | null } | null>(null);
  const [said, setSaid] = useState('');
  const [error, setError] = useState<AskError | null>(null);
  const [cutsOf, setCutsOf] = useState('');
  const [isAll, setAll] = useState(false);
  const table = useRef<HTMLDivElement>(null);
  const values = [...new Set(fields.flatMap(({ selectorValue }) => selectorValue ?? []))].sort(
    (a, b) => a - b,
  );
  const [asked, setAsked] = useState<number | 'all' | null>(null);
  // Without a word of the person, the layout of the field that was chosen first.
  const shown = asked ?? fields.find((field) => placeOf(field) === at)?.selectorValue ?? values[0] ?? 'all';
  const inLayout = fields.filter(
    ({ selectorValue }) => shown === 'all' || selectorValue === null || selectorValue === shown,
  );
  const chosen = inLayout.find((field) => placeOf(field) === at) ?? inLayout[0];
  const bus = message.busName;
  const choose = (mark: string) => {
    setAt(placeOf(fields.find((field) => field.mark === mark)));
    setJudging(null);
    setSaid('');
    setError(null);
  };
  const toTable = () => table.current?.querySelector<HTMLElement>('[aria-pressed="true"]')?.focus();
  const close = (sentence?: string) => {
    setJudging(null);
    if (sentence) setSaid(sentence);
    toTable();
  };
  const send = async (verb: 'undo' | 'reopen', body: object, sentence: string) => {
    try {
      await tell<DictionaryReply>(`/api/dictionary/${encodeURIComponent(bus ?? '')}/${verb}`, body);
      setSaid(sentence);
      setError(null);
    } catch (e) {
      setError(asAskError(e));
    }
  };
  const can = chosen && bus !== null ? actionsOf(chosen) : NOTHING;
  const acts: Record<string, (() => unknown) | false> = {
    a: can.accept && (() => setJudging({ as: 'accept', cut: null })),
    e: can.edit && (() => setJudging({ as: 'edit', cut: null })),
    r: can.reject && (() => setJudging({ as: 'reject', cut: null })),
    b:
      can.takeBack &&
      (() =>
        send('reopen', { place: chosen?.entry }, `The rejection of field ${chosen?.mark} is taken back.`)),
    u: undo > 0 && (() => send('undo', {}, 'The last change of this dictionary is undone.')),
    c: can.cuts && (() => setCutsOf(isCuts ? `none ${at}` : at)),
    o: () => setLayout(layout === 'falling' ? 'rising' : 'falling'),
    t: chosen !== undefined && capture !== TOGETHER && (() => go(overTime(capture, message, chosen))),
    g: chosen !== undefined && (() => go(relationsOf(capture, message, chosen))),
    p: () => turn(-1),
    n: () => turn(1),
  };
  const onLetter = (letter: string) => {
    const act = acts[letter];
    if (act) act();
    return Boolean(act);
  };
  const isUnsure = (chosen?.probability ?? 1) < DECIDED && chosen?.state === 'open';
  const isCuts = can.cuts && (cutsOf === at || (isUnsure && cutsOf !== `none ${at}`));
  const rejected = fields.filter(({ state }) => state === 'rejected');
  return (
    <>
      <MessageStrip
        {...{ number, message, values, shown, layout }}
        fields={inLayout}
        ask={setAsked}
        turnLayout={() => onLetter('o')}
      />
      <Section
        title="Fields"
        notes={chosen && <FieldNotes field={chosen} open={message.open} contradictions={contradictions} />}
      >
        {fields.length === 0 ? (
          <p class="quiet">No field was found in this message.</p>
        ) : (
          <div ref={table} class="wide">
            <FieldTable fields={inLayout} chosen={chosen?.mark ?? ''} choose={choose} onLetter={onLetter} />
          </div>
        )}
        {rejected.length > 0 && (
          <p class="quiet">
            Struck: {rejected.map(({ mark }) => mark).join(', ')}, rejected and proposed by no capture again;{' '}
            <kbd>b</kbd> takes a rejection back.
          </p>
        )}
        {bus === null && (
          <p class="quiet">
            This bus has no name yet: give its number a line in <code>buses.yaml</code>, and findings on it
            can be accepted.
          </p>
        )}
        {chosen && judging === null && (
          <p class="actions">
            Field <b>{chosen.mark}</b>, {labelOf(chosen) || 'without a name'}:{' '}
            <Act when={can.accept} act={() => onLetter('a')} words="Accept …" />
            <Act when={can.edit} act={() => onLetter('e')} words="Put right …" />
            <Act when={can.reject} act={() => onLetter('r')} words="Reject …" />
            <Act when={can.takeBack} act={() => onLetter('b')} words="Take the rejection back" />
            <Act
              when={can.cuts}
              act={() => onLetter('c')}
              words={isCuts ? 'Hide other cuts' : 'Other cuts'}
            />
            <Act when={undo > 0} act={() => onLetter('u')} words="Undo the last change" />
            {capture !== TOGETHER && <a href={overTime(capture, message, chosen)}>over time</a>}{' '}
            <a href={relationsOf(capture, message, chosen)}>relations</a>
          </p>
        )}
        {chosen && bus !== null && judging !== null && (
          <Judgement
            key={`${at} ${judging.as} ${judging.cut?.start} ${judging.cut?.length}`}
            field={chosen}
            bus={bus}
            capture={capture}
            named={message.name !== null}
            judging={judging.as}
            cut={judging.cut}
            close={close}
          />
        )}
        <p aria-live="polite" class="said">
          {said}
        </p>
        {error && <Failure error={error} />}
        {chosen && isCuts && (
          <OtherCuts
            capture={capture}
            message={message}
            field={chosen}
            choose={(cut) => setJudging({ as: 'accept', cut })}
          />
        )}
        {chosen && <FieldSeries number={`${number}-2`} capture={capture} message={message} field={chosen} />}
        <AllSeries {...props} isOpen={isAll} toggle={() => setAll(!isAll)} />
      </Section>
    </>
  );
}

const NOTHING = { accept: false, edit: false, reject: false, takeBack: false, cuts: false };

/** What a person can do with a field as it stands. */
function actionsOf({ key, entry, state, kind }: Field): typeof NOTHING {
  const isSignal = key === null || key.field === 'signal';
  const isTelling = kind !== 'constant' && kind !== 'padding';
  return {
    accept: key !== null && state !== 'accepted' && isTelling,
    edit: entry !== null && isSignal && state !== 'rejected',
    reject: (key !== null || entry !== null) && state !== 'rejected' && !(state === 'accepted' && !isSignal),
    takeBack: entry !== null && state === 'rejected',
    cuts: key !== null && isSignal && state !== 'accepted' && isTelling,
  };
}

function Act({ when, act, words }: { when: boolean; act: () => void; words: string }) {
  if (!when) return null;
  return (
    <>
      <button type="button" onClick={act}>
        {words}
      </button>{' '}
    </>
  );
}

type AllSeriesProps = MessageFieldsProps & { isOpen: boolean; toggle: () => void };

function AllSeries({ number, capture, message, fields, isOpen, toggle }: AllSeriesProps) {
  const telling = fields.filter(
    ({ kind, state }) => ['number', 'enum', 'flag', ''].includes(kind) && state !== 'rejected',
  );
  if (telling.length < 2) return null;
  return (
    <>
      <p>
        <button type="button" aria-expanded={isOpen} onClick={toggle}>
          {isOpen ? 'Hide' : 'Draw'} all {telling.length} over time
        </button>
      </p>
      {isOpen &&
        telling.map((field, i) => (
          <FieldSeries
            key={field.mark}
            number={`${number}-${i + 3}`}
            capture={capture}
            message={message}
            field={field}
          />
        ))}
    </>
  );
}

function firstTelling(fields: Field[]): Field | undefined {
  const order = ['number', 'enum', 'flag', 'counter'];
  const contradicted = fields.find(({ contradictions }) => contradictions.length > 0);
  if (contradicted) return contradicted;
  return order.map((kind) => fields.find((field) => field.kind === kind)).find(Boolean) ?? fields[0];
}

/** Marks move along when fields come and go; a place stays. */
function placeOf(field: Field | undefined): string {
  return field ? `${field.start} ${field.length} ${field.selectorValue} ${field.key?.field ?? 'signal'}` : '';
}

function go(address: string): void {
  location.hash = address;
}

function overTime(capture: string, message: FindingsMessageReply, field: Field): string {
  const { name, unit, scale, offset, start, length, byteOrder } = field;
  const place = length === 1 ? `bit ${start}` : `${length} bits from ${start}, ${byteOrder}`;
  const lane = laneText({
    query: fieldQuery(message, field),
    name: name || place,
    of: `${message.name ?? ''} ${message.id}, ${message.busName ?? `bus ${message.bus}`}`.trim(),
    unit,
    scale,
    offset,
  });
  return addressOf({ sheet: 'captures', capture, lane });
}

function relationsOf(capture: string, { bus, id, ext }: FindingsMessageReply, { start }: Field): string {
  const view = { kind: 'relations', signal: { bus, id, ext, start } } as const;
  return addressOf({ sheet: 'messages', capture, message: null, view });
}
