/** What a capture holds, message by message, for the Captures sheet. */

import type { CaptureRead } from '../../build/captureFile.ts';
import type { Build, Bus } from '../../build/model.ts';
import { FLAG, formatId } from '../../can/frame.ts';
import { groupByMessage, type MessageFrames } from '../../capture/select.ts';
import { timeSpan } from '../../capture/span.ts';
import type { Capture } from '../../capture/store.ts';
import { messageRows, sessionsOf } from '../../findings/rows.ts';
import { timingOf } from '../../findings/timing.ts';
import type { CaptureReply, MessageSummary } from '../api.ts';
import { breath } from '../breath.ts';

/** Names and rates of buses; what findings and captures know by number only. */
export type Known = Pick<Build, 'buses' | 'dictionaries'> | null;

export async function captureView(
  file: { name: string; bytes: number; hash: string },
  { capture, format, guess, notes }: CaptureRead,
  known: Known,
): Promise<CaptureReply> {
  const session = sessionsOf(capture);
  const messages: MessageSummary[] = [];
  for (const message of groupByMessage(capture)) {
    messages.push(messageSummary(capture, message, session, known));
    await breath();
  }
  return {
    ...file,
    frames: capture.count,
    seconds: timeSpan(capture.time).seconds,
    origin: originText(capture),
    format: `${format}: ${guess}`,
    notes,
    buses: busesOf(capture, messages, known),
    messages,
  };
}

export function busOf(known: Known, number: number): Bus | undefined {
  return known?.buses.find((bus) => bus.number === number);
}

function messageSummary(
  capture: Capture,
  message: MessageFrames,
  session: Uint32Array,
  known: Known,
): MessageSummary {
  const { bus, id, extended, frames } = message;
  const rows = messageRows(capture, message, session);
  const timing = timingOf(rows.time, rows.begins);
  const busName = busOf(known, bus)?.name ?? null;
  const dictionary = known?.dictionaries.find((d) => d.bus === busName);
  const entry = dictionary?.messages.find((m) => m.id === id && m.extended === extended);
  const first = frames[0] as number;
  const from = capture.offset[first] as number;
  return {
    bus,
    busName,
    id: formatId(id, extended),
    ext: extended ? 1 : 0,
    length: rows.length,
    frames: frames.length,
    periodMs: timing.periodMs,
    jitterMs: timing.jitterMs,
    firstPayload: hex(capture.payload.subarray(from, from + (capture.length[first] as number))),
    dictionaryName: entry?.name ?? null,
  };
}

function busesOf(capture: Capture, messages: MessageSummary[], known: Known): CaptureReply['buses'] {
  const frames = new Map<number, number>();
  for (let i = 0; i < capture.count; i++) {
    if (((capture.flags[i] as number) & FLAG.error) !== 0) continue;
    const bus = capture.bus[i] as number;
    frames.set(bus, (frames.get(bus) ?? 0) + 1);
  }
  return [...frames.entries()]
    .sort(([a], [b]) => a - b)
    .map(([bus, count]) => ({
      bus,
      name: busOf(known, bus)?.name ?? null,
      bitRateBps: busOf(known, bus)?.bitRateBps ?? null,
      frames: count,
      messages: messages.filter((m) => m.bus === bus).length,
    }));
}

/** The origin is stored in nanoseconds; shown to the microsecond. */
export function originText({ originNs, time, count }: Capture): string | null {
  if (originNs === 0n || count === 0) return null;
  const ns = originNs + BigInt(Math.round((time[0] as number) * 1e9));
  const seconds = new Date(Number(ns / 1_000_000_000n) * 1000).toISOString().slice(0, 19);
  const micro = String((ns % 1_000_000_000n) / 1000n).padStart(6, '0');
  return `${seconds}.${micro}Z`;
}

export function hex(bytes: ArrayLike<number>): string {
  return Array.from(bytes, (byte) => byte.toString(16).toUpperCase().padStart(2, '0')).join('');
}
