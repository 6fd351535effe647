import type { ClockMatch } from './clockMatch.ts';
import { storedLength } from './select.ts';
import { type Capture, CaptureBuilder } from './store.ts';

/**
 * Two captures as one, in order of time on the first one's clock. `busOf` gives the number under which a bus of the
 * second stands in the result, or null to leave it out (a bus that both recorded would be there twice).
 */
export function mergeCaptures(
  first: Capture,
  second: Capture,
  clock: Pick<ClockMatch, 'offsetS' | 'driftPpm'>,
  busOf: (bus: number) => number | null,
): Capture {
  const builder = new CaptureBuilder(first.count + second.count);
  builder.originNs = first.originNs;
  for (const [bus, name] of first.busNames ?? []) builder.busNames.set(bus, name);
  for (const [bus, name] of second.busNames ?? []) {
    const to = busOf(bus);
    if (to !== null && !builder.busNames.has(to)) builder.busNames.set(to, name);
  }
  const scale = 1 + clock.driftPpm * 1e-6;
  const moved = second.time.map((t) => t * scale + clock.offsetS);
  const a = sortedByTime(first.time);
  const b = sortedByTime(moved);
  const put = (from: Capture, i: number, time: number, bus: number) =>
    builder.add(
      time,
      bus,
      from.id[i]!,
      from.flags[i]!,
      from.length[i]!,
      from.payload,
      from.offset[i]!,
      storedLength(from, i),
    );
  let j = 0;
  const putSecondUpTo = (limit: number) => {
    for (; j < b.length && moved[b[j]!]! < limit; j++) {
      const i = b[j]!;
      const bus = busOf(second.bus[i]!);
      if (bus !== null) put(second, i, moved[i]!, bus);
    }
  };
  for (const i of a) {
    putSecondUpTo(first.time[i]!);
    put(first, i, first.time[i]!, first.bus[i]!);
  }
  putSecondUpTo(Number.POSITIVE_INFINITY);
  return builder.finish();
}

/** Indices in order of time; frames of one time stay in recorded order. */
function sortedByTime(time: Float64Array): Uint32Array {
  const order = Uint32Array.from(time, (_, i) => i);
  let rising = true;
  for (let i = 1; i < time.length && rising; i++) rising = time[i]! >= time[i - 1]!;
  return rising ? order : order.sort((p, q) => time[p]! - time[q]! || p - q);
}
