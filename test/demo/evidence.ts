/** The sentences with figures that stand as evidence in the demo's dictionaries, computed from the recordings. */
import type { Capture } from '../../src/capture/store.ts';
import { fieldBits } from '../../src/dictionary/bits.ts';
import { verifyCounter } from '../../src/dictionary/counter.ts';
import { decodeSignal, messageFrames } from '../../src/dictionary/decode.ts';
import type { Message, Signal } from '../../src/dictionary/model.ts';
import { verifyCheck } from '../../src/dictionary/verify.ts';

export function counterSentence(capture: Capture, bus: number, message: Message): string {
  const report = verifyCounter(capture, messageFrames(capture, bus, message), message.counter!);
  const { skip } = message.counter!;
  const never = skip.length > 0 && report.skippedSeen === 0 ? `, never to ${skip.join(' or ')}` : '';
  return `${report.agree} of ${report.steps} steps go on by one${never}`;
}

export function checkSentence(capture: Capture, bus: number, message: Message): string {
  const report = verifyCheck(capture, messageFrames(capture, bus, message), message)!;
  return `${report.agree} of ${report.frames} frames agree`;
}

export function signalSentence(capture: Capture, bus: number, message: Message, signal: Signal): string {
  const { value } = decodeSignal(capture, messageFrames(capture, bus, message), message, signal);
  if (signal.values || signal.length === 1) {
    const seen = [...new Set(value)].sort((a, b) => a - b);
    return `${seen.length === 1 ? 'only ' : ''}${seen.join(', ')} in ${value.length} frames`;
  }
  let lo = Number.POSITIVE_INFINITY;
  let hi = Number.NEGATIVE_INFINITY;
  for (const v of value) {
    lo = Math.min(lo, v);
    hi = Math.max(hi, v);
  }
  const show = (v: number) => `${Number(v.toFixed(3))}`;
  return `${show(lo)} to ${show(hi)}${signal.unit ? ` ${signal.unit}` : ''} in ${value.length} frames`;
}

/** How many of the field's top bits never changed. */
export function stillTopBits(capture: Capture, bus: number, message: Message, signal: Signal): number {
  const bits = fieldBits(signal);
  let moved = -1;
  let first = -1;
  for (const i of messageFrames(capture, bus, message)) {
    const from = capture.offset[i]!;
    if (first < 0) first = from;
    for (let k = bits.length - 1; k > moved; k--) {
      const bit = bits[k]!;
      const byte = bit >> 3;
      if (((capture.payload[from + byte]! ^ capture.payload[first + byte]!) >> (bit & 7)) & 1) moved = k;
    }
  }
  return bits.length - 1 - moved;
}
