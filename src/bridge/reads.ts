/** Everything that a gateway reads: wishes are collected first, then each message gets one program that serves them all. */
import type { Message } from '../dictionary/model.ts';
import type { Gateway, Source } from './gateway.ts';
import type { SignalRef } from './model.ts';
import type { GatewayNames, NameScope } from './names.ts';
import { type Lookup, messageKey } from './plan.ts';
import { BridgeError } from './problem.ts';
import { type ReadForm, type ReadProgram, type ReadWish, readProgram, toleratedFrames } from './read.ts';

interface Draft {
  ref: SignalRef;
  message: Message;
  scope: NameScope;
  wishes: ReadWish[];
  /** Output by signal and form. */
  outputs: Map<string, string>;
  made: { stage: number; read: ReadProgram } | null;
}

export class Reads {
  readonly #lookup: Lookup;
  readonly #names: GatewayNames;
  readonly #drafts = new Map<string, Draft>();

  constructor(lookup: Lookup, names: GatewayNames) {
    this.#lookup = lookup;
    this.#names = names;
  }

  want(ref: SignalRef, form: ReadForm): void {
    const draft = this.#draft(ref);
    const signal = this.#lookup.signal(ref);
    if (!signal) throw new BridgeError(`signal ${ref.signal} of ${ref.message} on ${ref.bus} is not there`);
    const key = wishKey(ref, form);
    if (draft.outputs.has(key)) return;
    const place = `${ref.bus}: ${ref.message}`;
    const output = this.#names.signal(draft.scope, place, ref.signal, form.kind === 'raw' ? 'raw' : '');
    draft.outputs.set(key, output);
    draft.wishes.push({ signal, form, output });
  }

  /** Whether the signal is wished in some form, so that its age comes with it. */
  wants(ref: SignalRef): boolean {
    return this.#drafts.get(messageKey(ref))?.wishes.some((w) => w.signal.name === ref.signal) ?? false;
  }

  /** Adds one received message and one stage per message read. */
  addTo(gateway: Gateway, lostFrames: number): void {
    for (const draft of this.#drafts.values()) {
      const { message, ref, wishes } = draft;
      const name = this.#names.message(ref.bus, ref.message);
      const options = { lostFrames: toleratedFrames(message, lostFrames, gateway.stepMs) };
      const read = readProgram(this.#names.program(`read ${name}`), message, wishes, options);
      const rx = gateway.rx.length;
      gateway.rx.push({
        name,
        bus: this.#lookup.bus(ref.bus)?.number ?? 0,
        id: message.id,
        extended: message.extended,
        length: message.length,
      });
      const sources: Source[] = [
        { from: 'rxFresh', message: rx },
        ...read.bytes.map((byte) => ({ from: 'rxByte', message: rx, byte }) as const),
      ];
      draft.made = { stage: gateway.stages.length, read };
      gateway.stages.push({ role: 'read', program: read.program, sources });
    }
  }

  /** Where a wished signal stands once `addTo` has run. */
  value(ref: SignalRef, form: ReadForm): Source & { from: 'stage' } {
    const draft = this.#draft(ref);
    return {
      from: 'stage',
      stage: draft.made?.stage ?? -1,
      output: draft.outputs.get(wishKey(ref, form)) ?? '',
    };
  }

  /** Where the age of a wished signal stands once `addTo` has run. */
  age(ref: SignalRef): Source & { from: 'stage' } {
    const { made } = this.#draft(ref);
    return { from: 'stage', stage: made?.stage ?? -1, output: made?.read.ages.get(ref.signal) ?? 'age' };
  }

  #draft(ref: SignalRef): Draft {
    const key = messageKey(ref);
    const known = this.#drafts.get(key);
    if (known) return known;
    const message = this.#lookup.message(ref);
    if (!message) throw new BridgeError(`message ${ref.message} on ${ref.bus} is not there`);
    const scope = this.#names.signals(['fresh', 'valid', 'age', 'frame_valid', 'intact']);
    const draft: Draft = { ref, message, scope, wishes: [], outputs: new Map(), made: null };
    this.#drafts.set(key, draft);
    return draft;
  }
}

function wishKey(ref: SignalRef, form: ReadForm): string {
  return JSON.stringify([ref.signal, form]);
}
