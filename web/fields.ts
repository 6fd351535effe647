/** The fields of one message as a sheet shows them: what was found, joined with what the dictionary holds. */

import type { Dictionary, Message } from '../src/dictionary/model.ts';
import type { StripField } from '../src/dossier/figures/index.ts';
import { columnOf } from '../src/dossier/figures/payloadBits.ts';
import type { Evidence } from '../src/findings/model.ts';
import type { FieldPlace, FindingKey, FindingState, FindingsMessageReply } from '../src/server/api.ts';
import { checkWords, counterWords, keyOf, scaleWords } from './words.ts';

export interface Field extends FieldPlace {
  /** Mark in the strip and in the table: "a", "b", … */
  mark: string;
  /** Empty where nobody has named it. */
  name: string;
  /** number, flag, enum, constant, counter, check, selector, padding; empty for a signal written by hand only. */
  kind: string;
  /** Scale and unit, or how a counter runs and a check is computed. */
  rule: string;
  signed: boolean | 'magnitude';
  scale: number;
  offset: number;
  unit: string;
  selectorValue: number | null;
  probability: number | null;
  state: FindingState;
  evidence: Evidence[];
  /** null where the dictionary has it and nothing was found there. */
  key: FindingKey | null;
}

type Signal = FindingsMessageReply['signals'][number];

/** Below this a field that nobody accepted is shown as undecided. */
const DECIDED = 0.9;

export function fieldsOf(message: FindingsMessageReply, dictionary: Dictionary | null): Field[] {
  const known = dictionary?.messages.find(
    (m) => m.id === Number.parseInt(message.id, 16) && Number(m.extended) === message.ext,
  );
  const fields = [
    ...message.signals.map((signal) => ofSignal(message, signal, known)),
    ...ofOthers(message),
    ...byHand(message, known),
  ];
  return fields
    .sort(
      (a, b) =>
        columnOf(a.start, 'falling') - columnOf(b.start, 'falling') ||
        (a.selectorValue ?? -1) - (b.selectorValue ?? -1),
    )
    .map((field, i) => ({ ...field, mark: keyOf(i) }));
}

/** Fields as the payload strip takes them; rejected ones have no bracket. */
export function stripFields(fields: Field[]): StripField[] {
  return fields
    .filter((field) => field.state !== 'rejected')
    .map((field) => ({
      key: field.mark,
      label: labelOf(field),
      start: field.start,
      length: field.length,
      byteOrder: field.byteOrder,
      standing: standingOf(field),
    }));
}

/** Name with unit, or what kind of field it is. */
export function labelOf({ name, kind, unit, length, selectorValue }: Field): string {
  const behind = selectorValue === null ? '' : ` when ${selectorValue}`;
  if (name) return `${name}${unit ? `, ${unit}` : ''}${behind}`;
  return `${kind === 'number' ? `number of ${length} bits` : kind}${behind}`;
}

function standingOf({ state, kind, probability }: Field): StripField['standing'] {
  if (state === 'accepted') return 'accepted';
  if (kind === 'constant' || kind === 'padding' || (probability ?? 0) < DECIDED) return 'undecided';
  return 'found';
}

function ofSignal(message: FindingsMessageReply, signal: Signal, known: Message | undefined): Field {
  const kept = known?.signals.find((s) => samePlace(s, signal));
  const { scale, offset, unit } = kept ?? signal;
  return {
    ...place(signal),
    mark: '',
    name: kept?.name ?? '',
    kind: signal.kind,
    rule: ruleOf(signal.kind, scale, offset, unit),
    signed: kept?.signed ?? signal.signed,
    scale,
    offset,
    unit,
    selectorValue: signal.selectorValue,
    probability: signal.probability,
    state: signal.state,
    evidence: signal.evidence,
    key: keyOfFinding(message, 'signal', signal, signal.selectorValue),
  };
}

function ruleOf(kind: Signal['kind'], scale: number, offset: number, unit: string): string {
  if (kind === 'constant' || kind === 'padding') return 'never changed';
  if (scale !== 1 || offset !== 0 || unit) return scaleWords(scale, offset, unit);
  return kind === 'number' ? 'raw steps, no scale yet' : 'raw value';
}

function ofOthers(message: FindingsMessageReply): Field[] {
  const { counter, check, selector } = message;
  const plain = {
    mark: '',
    name: '',
    signed: false,
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
  } as const;
  return [
    counter && {
      ...plain,
      ...place(counter),
      kind: 'counter',
      rule: counterWords(counter),
      probability: counter.probability,
      state: counter.state,
      evidence: counter.evidence,
      key: keyOfFinding(message, 'counter', counter, null),
    },
    check && {
      ...plain,
      ...place(check),
      kind: 'check',
      rule: checkWords(check),
      probability: check.probability,
      state: check.state,
      evidence: check.evidence,
      key: keyOfFinding(message, 'check', check, null),
    },
    selector && {
      ...plain,
      ...place(selector),
      kind: 'selector',
      rule: 'tells which fields follow',
      probability: null,
      state: selector.state,
      evidence: [],
      key: keyOfFinding(message, 'selector', selector, null),
    },
  ].filter((field) => field !== null);
}

/** Signals that a person wrote into the dictionary where the findings see none. */
function byHand(message: FindingsMessageReply, known: Message | undefined): Field[] {
  return (known?.signals ?? [])
    .filter((signal) => !message.signals.some((found) => samePlace(signal, found)))
    .map((signal) => ({
      ...place(signal),
      mark: '',
      name: signal.name,
      kind: '',
      rule: scaleWords(signal.scale, signal.offset, signal.unit),
      signed: signal.signed,
      scale: signal.scale,
      offset: signal.offset,
      unit: signal.unit,
      selectorValue: signal.selectorValue ?? null,
      probability: null,
      state: signal.state,
      evidence: (signal.evidence ?? []).map(({ text }) => ({ text })),
      key: null,
    }));
}

function samePlace(
  kept: Message['signals'][number],
  found: FieldPlace & { selectorValue: number | null },
): boolean {
  return (
    kept.start === found.start &&
    kept.length === found.length &&
    kept.byteOrder === found.byteOrder &&
    (kept.selectorValue ?? null) === found.selectorValue
  );
}

function place({ start, length, byteOrder }: FieldPlace): FieldPlace {
  return { start, length, byteOrder };
}

function keyOfFinding(
  message: FindingsMessageReply,
  field: FindingKey['field'],
  { start, length }: FieldPlace,
  selectorValue: number | null,
): FindingKey {
  return { id: message.id, ext: message.ext, field, start, length, selectorValue };
}
