/** Messages in the spelling of dictionary files; what equals a default is left out, so that files stay short. */
import { snakeKeys } from './case.ts';
import type { Dictionary, Message, Signal } from './model.ts';

type Entry = Record<string, unknown>;

export function sparseDictionary(dictionary: Dictionary): Entry {
  return { form: dictionary.form, bus: dictionary.bus, messages: dictionary.messages.map(sparseMessage) };
}

export function sparseMessage(message: Message): Entry {
  const { counter, check, selector, signals, note, ...rest } = message;
  return {
    ...without(rest, { extended: false, period_ms: null }),
    ...(note !== undefined && { note }),
    ...(selector !== undefined && { selector: without(selector, { byte_order: 'little' }) }),
    ...(counter !== undefined && { counter: sparseCounter(counter) }),
    ...(check !== undefined && { check: sparseCheck(check) }),
    ...(signals.length > 0 && { signals: signals.map(sparseSignal) }),
  };
}

export function sparseSignal(signal: Signal): Entry {
  return without(signal, { signed: false, scale: 1, offset: 0, unit: '', state: 'accepted' });
}

export function sparseCounter(counter: NonNullable<Message['counter']>): Entry {
  return without(counter, { byte_order: 'little', step: 1, skip: [] });
}

export function sparseCheck(check: NonNullable<Message['check']>): Entry {
  return without(check, {
    byte_order: 'little',
    width: 8,
    poly: 0,
    init: 0,
    xorout: 0,
    reflected: false,
    prefix: [],
    suffix: [],
    id_bytes: [],
    per_counter: null,
  });
}

function without(data: object, usual: Entry): Entry {
  return Object.fromEntries(
    Object.entries(snakeKeys(data) as Entry).filter(
      ([key, value]) =>
        value !== undefined &&
        !(
          Object.hasOwn(usual, key) &&
          JSON.stringify(value) === JSON.stringify(usual[key]) &&
          !Object.is(value, -0)
        ),
    ),
  );
}
