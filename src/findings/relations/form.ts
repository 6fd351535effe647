/** Relations, cues and scales as keys of the form `findings/1` (docs/forms.md). */
import { formatId } from '../../can/frame.ts';
import type { CueFinding } from '../cues/model.ts';
import type { Followers } from '../scale/against.ts';
import type { Bounded } from '../scale/model.ts';
import type { SignalPlace } from './grid.ts';
import type { Relations } from './model.ts';

export interface PlaceForm {
  bus: number;
  id: string;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  /** Only where the field stands there under one value of the selector. */
  selectorValue?: number;
}

export function placeForm({ selectorValue, ...p }: SignalPlace): PlaceForm {
  const { bus, id, extended, start, length, byteOrder } = p;
  const under = selectorValue === null || selectorValue === undefined ? {} : { selectorValue };
  return { bus, id: formatId(id, extended), start, length, byteOrder, ...under };
}

export function relationsForm({ copies, relations, names }: Relations) {
  return {
    copies: copies.map((list) => list.map(placeForm)),
    relations: relations.map((r) => ({
      kind: r.kind,
      from: placeForm(r.from),
      to: placeForm(r.to),
      with: r.with && placeForm(r.with),
      factor: tidy(r.factor),
      offset: tidy(r.offset),
      withFactor: tidy(r.withFactor),
      delayS: tidy(r.delayS),
      delayLowS: tidy(r.delayLowS),
      delayHighS: tidy(r.delayHighS),
      r: tidy(r.r),
      probability: tidy(r.probability),
      evidence: r.evidence,
    })),
    names: names.map((n) => ({ ...n, signals: n.signals.map(placeForm), probability: tidy(n.probability) })),
  };
}

export function cuesForm(findings: readonly CueFinding[]) {
  return {
    cues: Object.fromEntries(
      findings.map(({ name, candidates }) => [
        name,
        candidates.map(({ bus, id, extended, start, length, byteOrder, selectorValue = null, ...rest }) => ({
          ...placeForm({ bus, id, extended, start, length, byteOrder, selectorValue }),
          ...rest,
        })),
      ]),
    ),
    cueNotes: Object.fromEntries(
      findings.map(({ name, repeats, more, open }) => [name, { repeats, more, open }]),
    ),
  };
}

export function scalesForm(all: readonly Followers[]) {
  return {
    scales: all.flatMap(({ reference, followers }) =>
      followers.map(({ place, signed, fit }) => ({
        reference: reference.name,
        unit: reference.unit,
        ...placeForm(place),
        signed,
        relation: fit.relation,
        scale: bounded(fit.scale),
        plainScale: fit.plainScale,
        offset: bounded(fit.offset),
        plainOffset: fit.plainOffset,
        lagS: bounded(fit.lagS),
        pearson: tidy(fit.pearson),
        spearman: tidy(fit.spearman),
        samples: fit.samples,
        effective: tidy(fit.effective),
        curve: fit.curve,
        residual: tidy(fit.residual),
        probability: tidy(fit.probability),
        evidence: fit.evidence,
      })),
    ),
  };
}

function bounded({ value, low, high }: Bounded): Bounded {
  return { value: tidy(value), low: tidy(low), high: tidy(high) };
}

function tidy(x: number): number {
  return Number(x.toPrecision(6));
}
