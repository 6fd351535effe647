/** Values of a signal and of a reference at the same moments, the one shifted by a lag. */
import type { RawSeries } from './model.ts';

export interface Pairs {
  raw: Float64Array;
  reference: Float64Array;
}

/** Holes of more than this many usual gaps, and at least a second, are not bridged. */
const HOLE_GAPS = 4;
const LEAST_HOLE_S = 1;
const MOST = 4000;

/** Makes pairs for any lag: at the moments of the slower series, the other linear in between. */
export function pairMaker(signal: RawSeries, reference: RawSeries): (lagS: number) => Pairs {
  const signalGap = usualGap(signal.timeS);
  const referenceGap = usualGap(reference.timeS);
  const byReference = referenceGap >= signalGap;
  const [slow, quick] = byReference ? [reference, signal] : [signal, reference];
  const hole = Math.max(LEAST_HOLE_S, HOLE_GAPS * (byReference ? signalGap : referenceGap));
  const stride = Math.max(1, Math.ceil(slow.timeS.length / MOST));
  return (lagS) => {
    // The reference comes `lagS` later: at its time t it shows what the signal was at t − lagS.
    const shift = byReference ? -lagS : lagS;
    const raw: number[] = [];
    const other: number[] = [];
    let at = 0;
    for (let k = 0; k < slow.timeS.length; k += stride) {
      const t = (slow.timeS[k] as number) + shift;
      while (at + 1 < quick.timeS.length && (quick.timeS[at + 1] as number) <= t) at++;
      if (at + 1 >= quick.timeS.length || (quick.timeS[at] as number) > t) continue;
      const from = quick.timeS[at] as number;
      const gap = (quick.timeS[at + 1] as number) - from;
      if (gap > hole || gap <= 0) continue;
      const before = quick.value[at] as number;
      const value = before + (((quick.value[at + 1] as number) - before) * (t - from)) / gap;
      const own = slow.value[k] as number;
      if (!Number.isFinite(value) || !Number.isFinite(own)) continue;
      raw.push(byReference ? value : own);
      other.push(byReference ? own : value);
    }
    return { raw: Float64Array.from(raw), reference: Float64Array.from(other) };
  };
}

function usualGap(timeS: Float64Array): number {
  const gaps: number[] = [];
  const stride = Math.max(1, Math.floor(timeS.length / 2000));
  for (let i = 1; i < timeS.length; i += stride) gaps.push((timeS[i] as number) - (timeS[i - 1] as number));
  gaps.sort((a, b) => a - b);
  return gaps[gaps.length >> 1] ?? 0;
}
