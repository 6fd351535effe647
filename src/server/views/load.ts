/** How full each bus is over a capture. */

import { FLAG } from '../../can/frame.ts';
import { classicalFrameBits, frameBits } from '../../can/length.ts';
import { timeSpan } from '../../capture/span.ts';
import type { Capture } from '../../capture/store.ts';
import type { LoadReply } from '../api.ts';
import { breath } from '../breath.ts';
import { busOf, type Known } from './capture.ts';

/** Frames counted between two breaths. */
const PIECE = 20_000;

/**
 * Frames and bits per second of every bus in `bins` intervals of equal length. Classical frames are counted exactly, from
 * their content with stuff bits, acknowledgement, end of frame and intermission; of a CAN FD frame the longest it can be.
 */
export async function loadView(capture: Capture, bins: number, known: Known): Promise<LoadReply> {
  const { first, seconds } = timeSpan(capture.time);
  const width = seconds > 0 ? seconds / bins : 1;
  const buses = new Map<number, { frames: Float64Array; bits: Float64Array }>();
  const { count, time, id, bus, flags, length, offset, payload } = capture;
  for (let i = 0; i < count; i++) {
    if (i % PIECE === 0) await breath();
    const flag = flags[i] as number;
    if ((flag & FLAG.error) !== 0) continue;
    let lane = buses.get(bus[i] as number);
    if (lane === undefined) {
      lane = { frames: new Float64Array(bins), bits: new Float64Array(bins) };
      buses.set(bus[i] as number, lane);
    }
    const bin = Math.min(bins - 1, Math.floor(((time[i] as number) - first) / width));
    const bytes = length[i] as number;
    const bits =
      (flag & FLAG.fd) !== 0
        ? frameBits(flag, bytes).worst
        : classicalFrameBits(id[i] as number, flag, payload, offset[i] as number, bytes);
    lane.frames[bin] = (lane.frames[bin] as number) + 1;
    lane.bits[bin] = (lane.bits[bin] as number) + bits;
  }
  return {
    binSeconds: width,
    start: first,
    buses: [...buses.entries()]
      .sort(([a], [b]) => a - b)
      .map(([number, lane]) => ({
        bus: number,
        name: busOf(known, number)?.name ?? null,
        bitRateBps: busOf(known, number)?.bitRateBps ?? null,
        frames: Array.from(lane.frames),
        bitsPerSecond: Array.from(lane.bits, (bits) => bits / width),
      })),
  };
}
