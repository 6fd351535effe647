/** Random dictionaries without problems: every kind of field, names and notes of any characters. */
import fc from 'fast-check';
import { bytesNeeded, rawRange, sharedBits } from '../../src/dictionary/bits.ts';
import { camelKeys } from '../../src/dictionary/case.ts';
import type { Dictionary } from '../../src/dictionary/model.ts';
import { dictionarySchema } from '../../src/dictionary/schema.ts';

const LENGTHS = [1, 2, 4, 6, 8, 8, 8, 12, 16, 64];
const odd = fc.string({ unit: 'binary', maxLength: 12 });
const text = fc.oneof(
  odd,
  fc.string({ unit: 'grapheme', maxLength: 20 }),
  fc.constantFrom(
    '=1+1',
    '-',
    '"',
    "'",
    ' a ',
    'a, b',
    '0=off; 1=on',
    '<a&b>',
    ']]>',
    '\t',
    'line\r\nline',
    '°/s',
    '[x]',
    '#',
  ),
);
const named = text.filter((s) => s !== '');
const number = fc.double({ noNaN: true, noDefaultInfinity: true });
const evidence = fc.array(
  fc.record(
    { text, capture: text, probability: fc.double({ min: 0, max: 1, noNaN: true }) },
    { requiredKeys: ['text'] },
  ),
  { maxLength: 2 },
);
const byteOrder = fc.constantFrom('little' as const, 'big' as const);

interface Place {
  start: number;
  length: number;
  byte_order: 'little' | 'big';
}

function placeIn(bytes: number, most: number, least = 1): fc.Arbitrary<Place> {
  return fc
    .record({
      start: fc.nat(8 * bytes - 1),
      length: fc.integer({ min: least, max: most }),
      byte_order: byteOrder,
    })
    .filter((p) => bytesNeeded({ start: p.start, length: p.length, byteOrder: p.byte_order }) <= bytes);
}

const opt = <T>(arb: fc.Arbitrary<T>) => fc.option(arb, { nil: undefined });

function signal(bytes: number, selectorBits: number) {
  return placeIn(bytes, Math.min(64, 8 * bytes)).chain((place) => {
    const signed = fc.constantFrom(
      ...(place.length > 1 ? [false, true, 'magnitude' as const] : [false, true]),
    );
    return signed.chain((sign) => {
      const { lo, hi } = rawRange(place.length, sign);
      const raw = fc.integer({ min: Math.max(lo, -1e6), max: Math.min(hi, 1e6) });
      return fc.record({
        place: fc.constant(place),
        name: named,
        signed: fc.constant(sign),
        scale: fc.oneof(
          fc.constantFrom(1, 0.1, 0.01, -0.5),
          number.filter((n) => n !== 0),
        ),
        offset: fc.oneof(fc.constantFrom(0, -40), number),
        unit: fc.oneof(fc.constantFrom('', 'km/h', '°', 'm/s²', '%'), text),
        range: fc.tuple(opt(number), opt(number)),
        values: opt(fc.dictionary(raw.map(String), text, { minKeys: 1, maxKeys: 4 })),
        selector_value: opt(fc.nat(selectorBits > 0 ? 2 ** selectorBits - 1 : 0)),
        state: fc.constantFrom('accepted', 'proposed', 'rejected'),
        note: opt(text),
        evidence: opt(evidence),
      });
    });
  });
}

const message = fc.constantFrom(...LENGTHS).chain((length) => {
  const most = Math.min(16, 8 * length);
  return opt(placeIn(length, Math.min(6, most))).chain((selector) =>
    fc.record({
      name: named,
      extended: fc.boolean(),
      id: fc.nat(0x7ff),
      high: fc.nat(0x3ffff),
      length: fc.constant(length),
      period_ms: fc.option(
        fc.oneof(fc.constantFrom(10, 20, 100), fc.double({ min: 0.001, max: 1e5, noNaN: true })),
      ),
      sender: opt(fc.oneof(fc.constantFrom('Plover', 'Curlew', 'Wagtail brake control'), text)),
      note: opt(text),
      selector: fc.constant(selector),
      counter: opt(
        placeIn(length, Math.min(8, most), 2).chain((place) =>
          fc.record({
            place: fc.constant(place),
            step: fc.constantFrom(1, 1, -1, 3),
            skip: fc
              .constantFrom([], [2 ** place.length - 1])
              .filter((skip) => skip.length === 0 || place.length > 2),
            evidence: opt(evidence),
          }),
        ),
      ),
      check: opt(
        placeIn(length, Math.min(16, most)).chain((place) =>
          fc.record({
            place: fc.constant(place),
            algorithm: fc.constantFrom('crc', 'xor', 'sum', 'sumComplement', 'nibbleSum'),
            width: fc.integer({ min: place.length, max: 32 }),
            poly: fc.integer({ min: 1, max: 2 ** place.length - 1 }),
            init: fc.nat(2 ** place.length - 1),
            xorout: fc.nat(2 ** place.length - 1),
            reflected: fc.boolean(),
            covers: fc.uniqueArray(fc.nat(length - 1), { minLength: 1 }),
            prefix: fc.array(fc.nat(255), { maxLength: 3 }),
            suffix: fc.array(fc.nat(255), { maxLength: 3 }),
            id_bytes: fc.constantFrom([], [0], [1, 0]),
            perCounter: fc.boolean(),
            evidence: opt(evidence),
          }),
        ),
      ),
      signals: fc.array(signal(length, selector?.length ?? 0), { maxLength: 6 }),
    }),
  );
});

const field = (p: Place) => ({ start: p.start, length: p.length, byteOrder: p.byte_order });

/** Fields that would share bits with earlier ones are left out, so that what remains has no problems. */
export const dictionaries: fc.Arbitrary<Dictionary> = fc
  .record({ bus: named, messages: fc.array(message, { maxLength: 4 }) })
  .map(({ bus, messages }) => {
    const names = new Set<string>();
    const ids = new Set<string>();
    const kept = messages.flatMap((m) => {
      const { high, selector, counter, check, signals, ...rest } = m;
      const id = m.extended ? high * 2048 + m.id : m.id;
      const key = `${m.extended}:${id}`;
      if (names.has(m.name) || ids.has(key)) return [];
      names.add(m.name);
      ids.add(key);
      const taken: { place: Place; value: number | undefined }[] = [];
      const free = (place: Place, value?: number) => {
        const clash = taken.some(
          (t) =>
            (t.value === undefined || value === undefined || t.value === value) &&
            sharedBits(field(t.place), field(place)).length > 0,
        );
        if (!clash) taken.push({ place, value });
        return !clash;
      };
      const entry: Record<string, unknown> = { ...rest, id };
      if (selector && free(selector)) entry['selector'] = selector;
      if (counter && free(counter.place)) {
        const { place, ...other } = counter;
        entry['counter'] = { ...place, ...other };
      }
      if (check && free(check.place)) {
        const { place, perCounter, ...other } = check;
        const size = counter && entry['counter'] ? 2 ** counter.place.length : 0;
        const constants = Array.from({ length: size }, (_, k) => (k * 37) % 2 ** place.length);
        entry['check'] = { ...place, ...other, per_counter: perCounter && size > 0 ? constants : null };
      }
      const signalNames = new Set<string>();
      entry['signals'] = signals.flatMap(({ place, range: [low, high2], ...s }) => {
        const value = entry['selector'] ? s.selector_value : undefined;
        if (signalNames.has(s.name) || (s.state !== 'rejected' && !free(place, value))) return [];
        signalNames.add(s.name);
        const [min, max] =
          low !== undefined && high2 !== undefined && low > high2 ? [high2, low] : [low, high2];
        return [{ ...s, ...place, min, max, selector_value: value }];
      });
      return [entry];
    });
    const bare = JSON.parse(JSON.stringify({ form: 'dictionary/1', bus, messages: kept })) as unknown;
    return camelKeys(dictionarySchema.parse(bare));
  });
