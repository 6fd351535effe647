/** A signal of a capture as a person names it: the words of an accepted one, or where raw bits stand. */

import { bytesNeeded } from '../../can/bits.ts';
import { FLAG, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { type BitField, fieldReader } from '../../dictionary/bits.ts';
import { decodeSignal, messageFrames } from '../../dictionary/decode.ts';
import type { Build } from '../model.ts';

/** The words name no signal, or more than one; the message is one sentence. */
export class SignalError extends Error {
  override readonly name = 'SignalError';
}

export interface NamedSignal {
  /** "chassis wheel_speed speed", or the place as it was given. */
  words: string;
  unit: string;
  /** NaN where the value is not to be believed. */
  series(capture: Capture): { timeS: Float64Array; value: Float64Array };
}

/** Names of all accepted signals of a build. */
export function signalNames(build: Build): string[] {
  return accepted(build).map((k) => k.words);
}

/**
 * `words`: words that only one accepted signal holds in "bus message signal", or bus:ID:start:length:order with order little
 * or big, and a sixth part "signed" where the top bit is a sign.
 * @throws SignalError
 */
export function signalNamed(build: Build, words: string): NamedSignal {
  if (words.includes(':')) return rawField(build, words);
  const known = accepted(build);
  const exact = known.filter((k) => k.words === words.trim());
  const parts = words.toLowerCase().split(/\s+/).filter(Boolean);
  const found =
    exact.length > 0
      ? exact
      : known.filter((k) => parts.every((part) => k.words.toLowerCase().includes(part)));
  const [one] = found;
  if (one !== undefined && found.length === 1) return one;
  if (found.length > 1)
    throw new SignalError(
      `"${words}" fits ${found.length} signals: ${found
        .slice(0, 6)
        .map((k) => k.words)
        .join('; ')}; add a word`,
    );
  throw new SignalError(
    known.length === 0
      ? 'no signal is accepted yet: name raw bits, as in chassis:0B4:0:16:little'
      : `no accepted signal holds "${words}"; there are: ${known
          .slice(0, 12)
          .map((k) => k.words)
          .join('; ')}${known.length > 12 ? '; …' : ''}`,
  );
}

function accepted(build: Build): NamedSignal[] {
  return build.dictionaries.flatMap(({ bus: name, messages }) => {
    const bus = build.buses.find((b) => b.name === name);
    if (!bus) return [];
    return messages.flatMap((message) =>
      message.signals
        .filter((s) => s.state === 'accepted')
        .map(
          (signal): NamedSignal => ({
            words: `${name} ${message.name} ${signal.name}`,
            unit: signal.unit,
            series(capture) {
              const { time, value, valid } = decodeSignal(
                capture,
                messageFrames(capture, bus.number, message),
                message,
                signal,
              );
              return { timeS: time, value: value.map((v, i) => (valid[i] ? v : Number.NaN)) };
            },
          }),
        ),
    );
  });
}

function rawField(build: Build, words: string): NamedSignal {
  const m = /^([^:]+):([0-9a-f]+):(\d+):(\d+):(little|big)(:signed)?$/i.exec(words.trim());
  const wrong = (what: string) =>
    new SignalError(
      `"${words}": ${what}; right would be bus:ID:start:length:order, as in chassis:0B4:0:16:little`,
    );
  if (!m) throw wrong('no place of a field');
  const [, busWord = '', digits = '', start = '', length = '', order = ''] = m;
  const bus =
    build.buses.find((b) => b.name === busWord)?.number ?? (/^\d{1,3}$/.test(busWord) ? Number(busWord) : -1);
  if (bus < 0 || bus > 255)
    throw wrong(`there is no bus "${busWord}" (there are ${build.buses.map((b) => b.name).join(', ')})`);
  const extended = digits.length > 3;
  const id = Number.parseInt(digits, 16);
  if (id > (extended ? MAX_EXTENDED_ID : MAX_BASE_ID)) throw wrong(`${digits} is no identifier`);
  const field: BitField & { signed: boolean } = {
    start: Number(start),
    length: Number(length),
    byteOrder: order.toLowerCase() as 'little' | 'big',
    signed: m[6] !== undefined,
  };
  if (field.start > 511 || field.length < 1 || field.length > 48)
    throw wrong('start is 0 to 511, length 1 to 48');
  const needed = bytesNeeded(field);
  if (needed > 64) throw wrong('the field ends behind the longest payload');
  return {
    words: words.trim(),
    unit: '',
    series(capture) {
      const read = fieldReader(field);
      const timeS: number[] = [];
      const value: number[] = [];
      for (let i = 0; i < capture.count; i++) {
        if (capture.id[i] !== id || capture.bus[i] !== bus) continue;
        const flags = capture.flags[i] as number;
        if ((flags & (FLAG.remote | FLAG.error)) !== 0 || ((flags & FLAG.extended) !== 0) !== extended)
          continue;
        if ((capture.length[i] as number) < needed) continue;
        timeS.push(capture.time[i] as number);
        value.push(read(capture.payload, capture.offset[i] as number));
      }
      return { timeS: Float64Array.from(timeS), value: Float64Array.from(value) };
    },
  };
}
