/** Findings as the form `findings/1`, which `bywright find --json` prints (docs/forms.md). */
import { formatId } from '../can/frame.ts';
import type {
  Findings,
  FoundCheck,
  FoundCounter,
  FoundMessage,
  FoundSelector,
  FoundSignal,
} from './model.ts';
import { cuesForm, relationsForm, scalesForm } from './relations/form.ts';
import { type SenderEvidenceForm, sendersForm } from './senders/form.ts';

export interface FindingsForm extends Partial<Asked> {
  form: 'findings/1';
  frames: number;
  seconds: number;
  messages: MessageForm[];
  /** Identifiers by clock; what they rest on is in `senderEvidence`. */
  senders: string[][];
  senderEvidence: SenderEvidenceForm;
}

type Asked = ReturnType<typeof relationsForm> & ReturnType<typeof cuesForm> & ReturnType<typeof scalesForm>;

export interface MessageForm {
  bus: number;
  id: string;
  ext: 0 | 1;
  length: number;
  frames: number;
  periodMs: number | null;
  jitterMs: number | null;
  timing: FoundMessage['timing'];
  missing: number | null;
  outages: FoundMessage['outages'];
  flipRate: number[];
  /** All fields of the payload, those of counter and check included. */
  signals: FoundSignal[];
  counter: CounterForm | null;
  check: CheckForm | null;
  selector: Pick<FoundSelector, 'start' | 'length' | 'byteOrder'> | null;
  open: string[];
}

/** `sharedWith`: identifiers in hex. */
export type CounterForm = Omit<FoundCounter, 'sharedWith'> & { sharedWith?: string[] };

export type CheckForm = Omit<FoundCheck, 'poly' | 'init' | 'xorout' | 'prefix' | 'suffix'> & {
  poly: string;
  init: string;
  xorout: string;
  prefix: string;
  suffix: string;
};

export function toFindingsForm(findings: Findings): FindingsForm {
  return {
    form: 'findings/1',
    frames: findings.frames,
    seconds: rounded(findings.seconds),
    messages: findings.messages.map(messageForm),
    ...sendersForm(findings.senders),
    ...(findings.relations ? relationsForm(findings.relations) : {}),
    ...(findings.cues ? cuesForm(findings.cues) : {}),
    ...(findings.scales ? scalesForm(findings.scales) : {}),
  };
}

function messageForm(m: FoundMessage): MessageForm {
  return {
    bus: m.bus,
    id: formatId(m.id, m.extended),
    ext: m.extended ? 1 : 0,
    length: m.length,
    frames: m.frames,
    periodMs: m.periodMs === null ? null : rounded(m.periodMs),
    jitterMs: m.jitterMs === null ? null : rounded(m.jitterMs),
    timing: m.timing,
    missing: m.missing,
    outages: m.outages.map(({ fromS, toS }) => ({ fromS: rounded(fromS), toS: rounded(toS) })),
    flipRate: Array.from(m.flipRate, rounded),
    signals: [
      ...m.signals.map((s) => ({ ...s, probability: rounded(s.probability) })),
      ...(m.selector ? [asSignal(m.selector, 'selector')] : []),
      ...(m.counter ? [asSignal(m.counter, 'counter')] : []),
      ...(m.check ? [asSignal(m.check, 'check')] : []),
    ],
    counter: m.counter && counterForm(m.counter, m.extended),
    check: m.check && checkForm(m.check),
    selector: m.selector && place(m.selector),
    open: m.open,
  };
}

function place({
  start,
  length,
  byteOrder,
}: FoundSelector): Pick<FoundSelector, 'start' | 'length' | 'byteOrder'> {
  return { start, length, byteOrder };
}

function asSignal(
  field: FoundCounter | FoundCheck | FoundSelector,
  kind: 'counter' | 'check' | 'selector',
): FoundSignal {
  const { start, length, byteOrder, probability, evidence } = field;
  return {
    start,
    length,
    byteOrder,
    signed: false,
    kind,
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
    probability: rounded(probability),
    evidence,
  };
}

function counterForm({ sharedWith, ...counter }: FoundCounter, extended: boolean): CounterForm {
  const shared = sharedWith ? { sharedWith: sharedWith.map((id) => formatId(id, extended)) } : {};
  return { ...counter, ...shared, probability: rounded(counter.probability) };
}

function checkForm(check: FoundCheck): CheckForm {
  const digits = Math.ceil(check.width / 4);
  return {
    ...check,
    poly: hex(check.poly, digits),
    init: hex(check.init, digits),
    xorout: hex(check.xorout, digits),
    prefix: bytesHex(check.prefix),
    suffix: bytesHex(check.suffix),
    probability: rounded(check.probability),
  };
}

function hex(value: number, digits: number): string {
  return `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;
}

function bytesHex(bytes: readonly number[]): string {
  return bytes.map((b) => b.toString(16).toUpperCase().padStart(2, '0')).join('');
}

/** Six digits are more than any of these figures means. */
function rounded(x: number): number {
  return Number(x.toPrecision(6));
}
