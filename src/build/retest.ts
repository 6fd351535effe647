/** The accepted dictionary held against captures again: does every counter and check field still do what it says? */
import type { Capture } from '../capture/store.ts';
import { verifyCounter } from '../dictionary/counter.ts';
import { messageFrames } from '../dictionary/decode.ts';
import { verifyCheck } from '../dictionary/verify.ts';
import type { Build } from './model.ts';

export interface Retest {
  /** Accepted signals of all dictionaries. */
  signals: number;
  /** Messages of the dictionaries that occur in the capture, of all that they hold. */
  present: number;
  messages: number;
  /** Frames whose check field was computed, and those that agree. */
  checked: number;
  agree: number;
  /** Steps from frame to frame whose counter was followed, and those that are the next value. */
  counted: number;
  next: number;
}

/** Tests every message of the build's dictionaries that the capture holds. */
export function retest(build: Build, capture: Capture): Retest {
  const result: Retest = { signals: 0, present: 0, messages: 0, checked: 0, agree: 0, counted: 0, next: 0 };
  for (const dictionary of build.dictionaries) {
    const bus = build.buses.find((b) => b.name === dictionary.bus);
    for (const message of dictionary.messages) {
      result.messages++;
      result.signals += message.signals.filter((s) => s.state === 'accepted').length;
      const frames = bus ? messageFrames(capture, bus.number, message) : new Uint32Array(0);
      if (frames.length === 0) continue;
      result.present++;
      const check = verifyCheck(capture, frames, message);
      if (check) {
        result.checked += check.frames;
        result.agree += check.agree;
      }
      if (message.counter) {
        const counter = verifyCounter(capture, frames, message.counter);
        result.counted += counter.steps;
        result.next += counter.agree;
      }
    }
  }
  return result;
}
