import { describe, expect, test } from 'vitest';
import { camelKeys } from '../../src/dictionary/case.ts';
import { planMerge } from '../../src/dictionary/merge.ts';
import type { Dictionary } from '../../src/dictionary/model.ts';
import { dictionarySchema } from '../../src/dictionary/schema.ts';

function of(...messages: object[]): Dictionary {
  return camelKeys(dictionarySchema.parse({ form: 'dictionary/1', bus: 'chassis', messages }));
}

const speeds = (signals: object[], more: object = {}) => ({
  name: 'speeds',
  id: 0xd0,
  length: 8,
  signals,
  ...more,
});
const left = { name: 'left', start: 7, length: 16, byte_order: 'big', scale: 0.01, unit: 'km/h' };
const said = (current: Dictionary, incoming: Dictionary) =>
  planMerge(current, incoming).items.map(({ kind, field, text }) => `${kind} ${field}: ${text}`);

describe('definitions from elsewhere beside those of the build', () => {
  test('what is new is added, what is alike counts as there', () => {
    const current = of(speeds([left]));
    const incoming = of(
      speeds(
        [
          { ...left, state: 'proposed', note: 'from a sheet' },
          { ...left, name: 'right', start: 23 },
        ],
        { period_ms: 20 },
      ),
      { name: 'pedals', id: 0x1a0, length: 4 },
    );
    const plan = planMerge(current, incoming);
    expect(plan.same).toBe(3);
    expect(plan.items.map((i) => [i.kind, i.field, i.edit?.path])).toEqual([
      ['added', 'period_ms', ['messages', 0, 'period_ms']],
      ['added', 'right', ['messages', 0, 'signals']],
      ['added', 'message', ['messages']],
    ]);
  });

  test('an accepted entry stands against another definition, a proposed one gives way, a rejected one stays rejected', () => {
    const other = of(speeds([{ ...left, scale: 0.02 }]));
    expect(said(of(speeds([left])), other)).toEqual([
      'conflict left: scale 0.01 in the dictionary, 0.02 in the file',
    ]);
    const changed = planMerge(
      of(speeds([{ ...left, state: 'proposed', evidence: [{ text: 'seen' }] }])),
      other,
    ).items;
    expect(changed).toMatchObject([
      { kind: 'changed', edit: { do: 'set', path: ['messages', 0, 'signals', 0] } },
    ]);
    expect(changed[0]?.edit?.value).toMatchObject({ scale: 0.02, evidence: [{ text: 'seen' }] });
    expect(
      said(of(speeds([{ ...left, name: 'rejected_7_16', state: 'rejected', note: 'noise' }])), other),
    ).toEqual(['conflict left: rejected in the dictionary as "rejected_7_16" (noise)']);
  });

  test('what a file does not say contradicts nothing and takes nothing away', () => {
    const full = { ...left, min: 0, max: 250, values: { '65535': 'not known' }, note: 'seen on the road' };
    const bare = { ...left, unit: '' };
    expect(planMerge(of(speeds([full])), of(speeds([bare])))).toEqual({ items: [], same: 3 });
    const plan = planMerge(
      of(speeds([{ ...full, state: 'proposed' }])),
      of(speeds([{ ...bare, scale: 0.02 }])),
    );
    expect(plan.items[0]?.edit?.value).toEqual({ ...full, scale: 0.02 });
    expect(said(of(speeds([left])), of(speeds([{ ...left, max: 250 }])))).toEqual([
      'conflict left: max none in the dictionary, 250 in the file',
    ]);
  });

  test('taken bits, taken names, and what the message itself says differently are conflicts', () => {
    const current = of(
      speeds([left], { counter: { start: 48, length: 4 }, period_ms: 20, sender: 'Curlew' }),
    );
    expect(said(current, of(speeds([{ name: 'low', start: 4, length: 8, byte_order: 'little' }])))).toEqual([
      'conflict low: it claims bits 4 to 11 of left',
    ]);
    expect(
      said(
        current,
        of(speeds([], { counter: { start: 52, length: 4 }, period_ms: 10, sender: 'Plover', length: 7 })),
      ),
    ).toEqual([
      'conflict length: 8 in the dictionary, 7 in the file',
      'conflict period_ms: 20 in the dictionary, 10 in the file',
      'conflict sender: Curlew in the dictionary, Plover in the file',
      'conflict counter: 4 bits from 48, little-endian in the dictionary, 4 bits from 52, little-endian in the file',
    ]);
    expect(said(current, of({ name: 'speeds', id: 0xd1, length: 8 }))).toEqual([
      'conflict name: the name is that of 0D0',
    ]);
  });
});
