/** One field over time, thinned so that no peak is lost: the least and greatest raw value of each interval. */
import { bytesNeeded, readBits, readRaw } from '../../can/bits.ts';
import { FLAG } from '../../can/frame.ts';
import type { FieldQuestion } from '../../capture/overview/index.ts';
import type { Capture } from '../../capture/store.ts';
import type { SeriesReply } from '../api.ts';

export interface SeriesQuestion extends FieldQuestion {
  fromS: number;
  toS: number;
  points: number;
}

export function seriesView(capture: Capture, question: SeriesQuestion): SeriesReply {
  const { bus, id, extended, field, selector, points } = question;
  const frames: number[] = [];
  const needed = Math.max(bytesNeeded(field), selector === null ? 0 : bytesNeeded(selector.field));
  let first = Number.POSITIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < capture.count; i++) {
    if (capture.id[i] !== id || capture.bus[i] !== bus) continue;
    const flags = capture.flags[i] as number;
    if ((flags & (FLAG.remote | FLAG.error)) !== 0 || ((flags & FLAG.extended) !== 0) !== extended) continue;
    const t = capture.time[i] as number;
    if ((capture.length[i] as number) < needed || t < question.fromS || t > question.toS) continue;
    if (
      selector !== null &&
      readBits(capture.payload, capture.offset[i] as number, selector.field) !== selector.value
    )
      continue;
    frames.push(i);
    if (t < first) first = t;
    if (t > last) last = t;
  }
  const width = last > first ? (last - first) / points : 1;
  const low = new Float64Array(points).fill(Number.POSITIVE_INFINITY);
  const high = new Float64Array(points).fill(Number.NEGATIVE_INFINITY);
  for (const i of frames) {
    const bin = Math.min(points - 1, Math.floor(((capture.time[i] as number) - first) / width));
    const raw = readRaw(capture.payload, capture.offset[i] as number, field);
    if (raw < (low[bin] as number)) low[bin] = raw;
    if (raw > (high[bin] as number)) high[bin] = raw;
  }
  const reply: SeriesReply = { frames: frames.length, time: [], low: [], high: [] };
  for (let bin = 0; bin < points; bin++) {
    if ((low[bin] as number) > (high[bin] as number)) continue;
    reply.time.push(first + (bin + 0.5) * width);
    reply.low.push(low[bin] as number);
    reply.high.push(high[bin] as number);
  }
  return reply;
}
