/** The signals of a capture that follow a reference channel, each with factor, offset and delay. */
import { fieldReader, readBits } from '../../can/bits.ts';
import { groupByMessage } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import type { Findings, FoundSignal } from '../model.ts';
import { keyOf, placeOf, type SignalPlace } from '../relations/grid.ts';
import { correlation, ranksOf } from '../relations/statistics.ts';
import { fitScale, type ScaleOptions } from './fit.ts';
import type { RawSeries, ReferenceChannel, ScaleFit } from './model.ts';
import { pairMaker } from './pairs.ts';

export interface Follower {
  place: SignalPlace;
  signed: FoundSignal['signed'];
  fit: ScaleFit;
}

export interface Followers {
  reference: ReferenceChannel;
  /** Closest first. */
  followers: Follower[];
}

/** Rank correlation that earns a full fit, how many get one, and samples that the screening looks at. */
const SCREEN = 0.6;
const MOST = 12;
const SAMPLES = 400;

/** @throws the reason of `signal` when it is aborted. */
export async function followersOf(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  references: readonly ReferenceChannel[],
  options: ScaleOptions & { onProgress?: (share: number) => void; signal?: AbortSignal } = {},
): Promise<Followers[]> {
  const steps = followerSteps(capture, findings, references, options);
  for (;;) {
    options.signal?.throwIfAborted();
    const step = steps.next();
    if (step.done) return step.value;
    options.onProgress?.(step.value);
    await new Promise((resolve) => setTimeout(resolve, 0));
  }
}

/** The same in steps; yields the share that is done. */
export function* followerSteps(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  references: readonly ReferenceChannel[],
  options: ScaleOptions = {},
): Generator<number, Followers[]> {
  const results: Followers[] = [];
  for (const [k, reference] of references.entries()) {
    const close: { place: SignalPlace; signed: FoundSignal['signed']; series: RawSeries; r: number }[] = [];
    let done = 0;
    const groups = groupByMessage(capture);
    for (const group of groups) {
      const message = findings.messages.find(
        (m) => m.bus === group.bus && m.id === group.id && m.extended === group.extended,
      );
      const whole = message ? group.frames.filter((f) => capture.length[f] === message.length) : group.frames;
      for (const field of message?.signals ?? []) {
        if (field.kind !== 'number' || field.length < 3) continue;
        const series = seriesOf(capture, whole, field, message?.selector ?? null);
        const r = screened(series, reference, options.mostLagS ?? 3);
        if (r < SCREEN) continue;
        close.push({ place: { ...placeOf({ ...group, ...field }) }, signed: field.signed, series, r });
        close.sort((a, b) => b.r - a.r || keyOf(a.place).localeCompare(keyOf(b.place)));
        close.length = Math.min(close.length, MOST);
      }
      yield (k + (0.7 * ++done) / groups.length) / references.length;
    }
    const followers: Follower[] = [];
    for (const { place, signed, series } of close) {
      const fit = fitScale(series, reference, options);
      if (fit.relation === 'linear' || fit.relation === 'monotone') followers.push({ place, signed, fit });
      yield (k + 0.7 + (0.3 * followers.length) / MOST) / references.length;
    }
    const size = ({ fit }: Follower) => Math.max(Math.abs(fit.pearson), Math.abs(fit.spearman));
    followers.sort((a, b) => size(b) - size(a));
    results.push({ reference, followers });
  }
  return results;
}

function seriesOf(
  capture: Capture,
  frames: Uint32Array,
  field: FoundSignal,
  selector: Findings['messages'][number]['selector'],
): RawSeries {
  const { time, payload, offset } = capture;
  const chosen =
    selector === null || field.selectorValue === null
      ? frames
      : frames.filter((f) => readBits(payload, offset[f] as number, selector) === field.selectorValue);
  const read = fieldReader(field);
  const timeS: number[] = [];
  const value: number[] = [];
  for (const f of chosen) {
    const t = time[f] as number;
    // Stamps that run back have no place on a time axis.
    if (timeS.length > 0 && t <= (timeS.at(-1) as number)) continue;
    timeS.push(t);
    value.push(read(payload, offset[f] as number));
  }
  return { timeS: Float64Array.from(timeS), value: Float64Array.from(value) };
}

/** Largest rank correlation at a few lags, on few samples. */
function screened(series: RawSeries, reference: ReferenceChannel, most: number): number {
  const pairsAt = pairMaker(series, thinned(reference));
  let best = 0;
  for (const lag of [-most / 2, -most / 6, 0, most / 6, most / 2]) {
    const { raw, reference: other } = pairsAt(lag);
    if (raw.length >= 12) best = Math.max(best, Math.abs(correlation(ranksOf(raw), ranksOf(other))));
  }
  return best;
}

function thinned(reference: ReferenceChannel): RawSeries {
  const stride = Math.max(1, Math.floor(reference.timeS.length / SAMPLES));
  const keep = (_: number, i: number) => i % stride === 0;
  return { timeS: reference.timeS.filter(keep), value: reference.value.filter(keep) };
}

/** Correlation that ties a signal to the quantity of a channel, not only to something that goes with it. */
const SAME_QUANTITY = 0.97;

/** Findings whose signals carry scale, offset and unit where a channel singles them out. */
export function withScales(messages: Findings['messages'], all: readonly Followers[]): Findings['messages'] {
  const settled = new Map<string, Pick<FoundSignal, 'scale' | 'offset' | 'unit' | 'evidence'>>();
  for (const { reference, followers } of all) {
    for (const { place, fit } of followers) {
      const { relation, plainScale, plainOffset, pearson, evidence } = fit;
      if (relation !== 'linear' || !plainScale || plainOffset === null) continue;
      if (Math.abs(pearson) < SAME_QUANTITY || settled.has(keyOf(place))) continue;
      settled.set(keyOf(place), {
        scale: plainScale.value,
        offset: plainOffset,
        unit: reference.unit,
        evidence: evidence.map(({ text }) => ({ text: `Against ${reference.name}: ${text}` })),
      });
    }
  }
  return messages.map((message) => ({
    ...message,
    signals: message.signals.map((signal) => {
      const found = settled.get(keyOf({ ...message, ...signal }));
      return found ? { ...signal, ...found, evidence: [...signal.evidence, ...found.evidence] } : signal;
    }),
  }));
}
