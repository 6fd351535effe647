/** Which frames of a capture a person asks for: by bus, identifier, time and cue, in the words of the build. */

import { FLAG, formatId, idKey, MAX_BASE_ID, MAX_EXTENDED_ID } from '../can/frame.ts';
import { pickFrames, selectFrames } from '../capture/select.ts';
import { timeSpan } from '../capture/span.ts';
import type { Capture } from '../capture/store.ts';
import type { Build } from './model.ts';

export interface Selection {
  /** Names or numbers of buses; absent = all. */
  buses?: readonly string[] | undefined;
  /** Identifiers in hex, 3 digits for 11 bits and 8 for 29 bits; absent = all. */
  ids?: readonly string[] | undefined;
  /** Seconds from the first frame of the capture: from ≤ t < to. */
  fromS?: number | undefined;
  toS?: number | undefined;
  /** Names of cues of the capture's cue sheet; frames within any of them are kept, from start ≤ t < end. */
  cues?: readonly string[] | undefined;
}

/** A selection that names what is not there; the message is one sentence. */
export class SelectionError extends Error {
  override readonly name = 'SelectionError';
}

/**
 * The frames of `capture` that fit all parts of the selection, in recorded order; times keep their origin.
 * @param name file name of the capture in the build, for its cue sheet
 * @throws SelectionError where a bus, identifier or cue is not known or no frame fits
 */
export function selectIn(build: Build, name: string, capture: Capture, selection: Selection): Capture {
  const { buses, ids, fromS, toS, cues } = selection;
  if (fromS !== undefined && toS !== undefined && fromS >= toS)
    throw new SelectionError(
      `From ${fromS} s to ${toS} s is no stretch of time: give the earlier time first.`,
    );
  const all = selectFrames(capture, {
    ...(buses ? { buses: buses.map((word) => busNumber(build, capture, word)) } : {}),
    ...(ids ? { idKeys: ids.map(keyOf) } : {}),
    ...(fromS !== undefined ? { fromS } : {}),
    ...(toS !== undefined ? { toS } : {}),
  });
  const frames = cues ? within(capture, all, cueSpans(build, name, cues)) : all;
  if (frames.length === 0) {
    const { first, last } = timeSpan(capture.time);
    throw new SelectionError(
      `No frame of ${name} fits: it holds ${capture.count} frames from ${first.toFixed(3)} s to ${last.toFixed(3)} s on ${busWords(build, capture)}; nothing was written.`,
    );
  }
  return pickFrames(capture, frames);
}

function busNumber(build: Build, capture: Capture, word: string): number {
  const named = build.buses.find((b) => b.name === word)?.number;
  const recorded = [...(capture.busNames ?? [])].find(([, name]) => name === word)?.[0];
  const number = named ?? recorded ?? (/^\d{1,3}$/.test(word) ? Number(word) : -1);
  if (number >= 0 && number <= 255) return number;
  throw new SelectionError(
    `There is no bus "${word}": the build has ${build.buses.map((b) => `${b.name} (${b.number})`).join(', ')}.`,
  );
}

function keyOf(word: string): number {
  const digits = /^(?:0x)?([0-9a-f]+)$/i.exec(word)?.[1] ?? '';
  const id = Number.parseInt(digits, 16);
  if (digits.length > 0 && digits.length <= 3 && id <= MAX_BASE_ID) return idKey(id, 0);
  if (digits.length === 8 && id <= MAX_EXTENDED_ID) return idKey(id, FLAG.extended);
  const meant =
    digits.length > 3 && digits.length < 8 && id <= MAX_EXTENDED_ID
      ? `, for this one ${formatId(id, true)}`
      : '';
  throw new SelectionError(
    `"${word}" is no identifier: write it in hex with 3 digits for 11 bits (up to 7FF) or 8 digits for 29 bits (up to 1FFFFFFF)${meant}.`,
  );
}

type Span = { from: number; to: number };

function cueSpans(build: Build, name: string, wanted: readonly string[]): Span[] {
  const cues = build.cueSheets.filter((sheet) => sheet.capture === name).flatMap((sheet) => sheet.cues);
  return wanted.flatMap((word) => {
    const found = cues.filter((cue) => cue.name === word);
    if (found.length > 0) return found.map(({ startS, endS }) => ({ from: startS, to: endS }));
    const known = [...new Set(cues.map((cue) => cue.name))];
    throw new SelectionError(
      known.length > 0
        ? `${name} has no cue "${word}": its cue sheet has ${known.join(', ')}.`
        : `${name} has no cue "${word}": there is no cue sheet with cues for it under cues/.`,
    );
  });
}

function within({ time }: Capture, frames: Uint32Array, spans: readonly Span[]): Uint32Array {
  return frames.filter((i) =>
    spans.some(({ from, to }) => (time[i] as number) >= from && (time[i] as number) < to),
  );
}

function busWords(build: Build, { bus }: Capture): string {
  const numbers = [...new Set(bus)].sort((a, b) => a - b);
  const words = numbers.map((n) => build.buses.find((b) => b.number === n)?.name ?? String(n));
  return `${words.length === 1 ? 'bus' : 'buses'} ${words.join(', ')}`;
}
