/** Turns what the world is like into the payloads of one message, frame after frame. */
import { readCheck, writeCheck } from '../../src/can/check.ts';
import { rawRange, writeBits, writeRaw } from '../../src/dictionary/bits.ts';
import { nextCounter } from '../../src/dictionary/counter.ts';
import { rawValue } from '../../src/dictionary/decode.ts';
import type { Mischief, Traffic } from './messages/index.ts';
import type { World } from './world.ts';

export class PayloadMaker {
  readonly #traffic: Traffic;
  #count: number;
  #turn = 0;

  constructor(traffic: Traffic) {
    this.#traffic = traffic;
    this.#count = 0;
  }

  /** The next payload, from the moment to which the world was moved. */
  next(world: World, mischief: Mischief | null): Uint8Array {
    const { message, sent, background, selectorCycle } = this.#traffic;
    const payload = new Uint8Array(message.length);
    payload.set(background);
    let shown: number | undefined;
    if (message.selector) {
      shown = selectorCycle[this.#turn++ % selectorCycle.length] as number;
      writeBits(payload, 0, message.selector, shown);
    }
    for (const { signal, value } of sent) {
      if (signal.selectorValue !== undefined && signal.selectorValue !== shown) continue;
      const { lo, hi } = rawRange(signal.length, signal.signed);
      const raw = Math.max(lo, Math.min(hi, rawValue(signal, value(world))));
      writeRaw(payload, 0, signal, raw);
    }
    const { counter, check } = message;
    if (counter) {
      if (mischief !== 'frozen counter') this.#count = nextCounter(counter, this.#count);
      writeBits(payload, 0, counter, this.#count);
    }
    if (check) {
      writeCheck(check, message.id, payload, 0, payload.length, this.#count);
      if (mischief === 'wrong check') writeBits(payload, 0, check, readCheck(check, payload, 0) ^ 0x55);
    }
    return payload;
  }
}
