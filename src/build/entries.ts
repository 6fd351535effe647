/** Findings in the spelling of `dictionary/<bus>.yaml`; what equals a default is left out, so that files stay short. */
import { formatId } from '../can/frame.ts';
import type { Evidence, FoundCheck, FoundCounter, FoundMessage, FoundSignal } from '../findings/model.ts';
import type { Targeted } from './findingTarget.ts';

/** What a person adds to or corrects in a finding when accepting it. */
export interface Correction {
  /** Another cut than the one found; all of it or none. */
  cut?: SignalCut | undefined;
  scale?: number | undefined;
  offset?: number | undefined;
  unit?: string | undefined;
  note?: string | undefined;
}

export interface SignalCut {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  signed: boolean | 'magnitude';
}

/** Evidence that does not stand in the finding itself. */
export interface MoreEvidence {
  text: string;
  /** Name of the cue that the signal followed, so that later recordings can be asked whether it still does. */
  cue?: string;
}

export function messageEntry(found: FoundMessage, name: string | undefined): { name: string } {
  const entry = {
    name: name?.trim() || `message_${formatId(found.id, found.extended)}`,
    id: found.id,
    ...given('extended', found.extended, false),
    length: found.length,
    ...given('period_ms', found.periodMs === null ? null : tidyPeriod(found.periodMs), null),
  };
  return entry;
}

export function signalEntry(
  capture: string,
  signal: FoundSignal,
  name: string,
  correction: Correction,
  more: readonly MoreEvidence[] = [],
): object {
  const cut = correction.cut ?? signal;
  return {
    name,
    ...place(cut),
    ...given('signed', cut.signed, false),
    ...given('scale', correction.scale ?? signal.scale, 1),
    ...given('offset', correction.offset ?? signal.offset, 0),
    ...given('unit', correction.unit ?? signal.unit, ''),
    ...given('selector_value', signal.selectorValue, null),
    ...given('note', correction.note?.trim() ?? '', ''),
    evidence: [
      ...evidenceEntries(capture, { field: 'signal', finding: signal }),
      ...more.map(({ text, cue }) => ({ capture, text, ...given('cue', cue, undefined) })),
      ...(isSameCut(cut, signal) ? [] : [{ text: cutWords(signal) }]),
    ],
  };
}

function isSameCut(a: SignalCut, b: SignalCut): boolean {
  return a.start === b.start && a.length === b.length && a.byteOrder === b.byteOrder && a.signed === b.signed;
}

function cutWords({ start, length, byteOrder, signed }: SignalCut): string {
  const sign = signed === 'magnitude' ? 'sign and magnitude' : signed ? 'signed' : 'without sign';
  return `cut by hand; the evidence is of the field found at bit ${start}, ${length} long, ${byteOrder}, ${sign}`;
}

export function counterEntry(capture: string, counter: FoundCounter, { note }: Correction): object {
  return {
    ...place(counter),
    ...given('step', counter.step, 1),
    ...listed('skip', counter.skip),
    evidence: withNote(evidenceEntries(capture, { field: 'counter', finding: counter }), note),
  };
}

export function checkEntry(capture: string, check: FoundCheck, { note }: Correction): object {
  return {
    ...place(check),
    algorithm: check.algorithm,
    width: check.width,
    ...given('poly', check.poly, 0),
    ...given('init', check.init, 0),
    ...given('xorout', check.xorout, 0),
    ...given('reflected', check.reflected, false),
    covers: check.covers,
    ...listed('prefix', check.prefix),
    ...listed('suffix', check.suffix),
    ...listed('id_bytes', check.idBytes),
    ...given('per_counter', check.perCounter, null),
    evidence: withNote(evidenceEntries(capture, { field: 'check', finding: check }), note),
  };
}

export function selectorEntry(selector: NonNullable<FoundMessage['selector']>): object {
  return place(selector);
}

/** A finding that a person turned down, kept as a signal so that it is not proposed again. */
export function rejectedEntry(
  capture: string,
  { field, finding }: Targeted,
  name: string,
  note: string,
): object {
  const signal = field === 'signal' ? finding : null;
  return {
    name,
    ...place(finding),
    ...given('signed', signal?.signed ?? false, false),
    ...given('selector_value', signal?.selectorValue ?? null, null),
    state: 'rejected',
    ...given('note', note, ''),
    evidence: evidenceEntries(capture, { field, finding } as Targeted),
  };
}

/** One entry per sentence of evidence; the probability goes with the first. */
export function evidenceEntries(capture: string, { finding }: Targeted): object[] {
  const evidence: Evidence[] = 'evidence' in finding ? finding.evidence : [];
  const probability = 'probability' in finding ? Number(finding.probability.toPrecision(4)) : null;
  const texts = evidence.length === 0 ? ['found in this capture'] : evidence.map((e) => e.text);
  return texts.map((text, i) => ({
    capture,
    text,
    ...(i === 0 ? given('probability', probability, null) : {}),
  }));
}

function withNote(evidence: object[], note: string | undefined): object[] {
  return note?.trim() ? [...evidence, { text: note.trim() }] : evidence;
}

function place(field: { start: number; length: number; byteOrder: 'little' | 'big' }): object {
  return { start: field.start, length: field.length, byte_order: field.byteOrder };
}

function given(name: string, value: unknown, usual: unknown): object {
  return value === usual ? {} : { [name]: value };
}

function listed(name: string, values: readonly number[]): object {
  return values.length === 0 ? {} : { [name]: values };
}

/** Measured periods scatter by microseconds; within 2 % of a whole millisecond that millisecond is meant. */
function tidyPeriod(ms: number): number {
  const whole = Math.round(ms);
  return whole > 0 && Math.abs(ms - whole) < 0.02 * whole ? whole : Number(ms.toPrecision(3));
}
