import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readAutosar, writeAutosar } from '../../../src/dictionary/autosar/index.ts';
import { camelKeys } from '../../../src/dictionary/case.ts';
import { dictionaryProblems } from '../../../src/dictionary/problems.ts';
import { dictionarySchema } from '../../../src/dictionary/schema.ts';

const dictionary = camelKeys(
  dictionarySchema.parse({
    form: 'dictionary/1',
    bus: 'chassis',
    messages: [
      {
        name: 'speeds',
        id: 0xd0,
        length: 8,
        period_ms: 20,
        sender: 'Curlew',
        counter: { start: 48, length: 4 },
        signals: [
          { name: 'left', start: 7, length: 16, byte_order: 'big', scale: 0.01, unit: 'km/h', max: 250 },
          {
            name: 'right',
            start: 23,
            length: 16,
            byte_order: 'big',
            scale: 0.01,
            unit: 'km/h',
            note: 'a & b',
          },
        ],
      },
    ],
  }),
);
const text = writeAutosar([{ dictionary }]);

describe('system descriptions that are not as they should be', () => {
  test('what is broken is told with line and element', () => {
    const found = (changed: string) => readAutosar(changed).problems[0];
    expect(text).toContain('<FRAME-LENGTH>8</FRAME-LENGTH>');
    const line = (part: string) => text.slice(0, text.indexOf(part)).split('\n').length;
    expect(found(text.replace('<IDENTIFIER>208', '<IDENTIFIER>a lot'))).toEqual({
      line: line('<CAN-FRAME-TRIGGERING>'),
      element: '/Clusters/chassis/Channel/FT_speeds',
      found: 'IDENTIFIER "a lot"',
      expected: 'a whole number up to 536870911',
    });
    expect(found(text.replaceAll('>/Signals/left<', '>/Signals/gone<'))).toMatchObject({
      line: text.slice(0, text.lastIndexOf('>/Signals/left<')).split('\n').length,
      found: expect.stringMatching(/^I-SIGNAL-REF to "\/Signals\/gone", which is not in this file/),
    });
    expect(found(text.replace('<START-POSITION>23<', '<START-POSITION>7<'))).toMatchObject({
      element: '/Clusters/chassis/Channel/FT_speeds',
      found: 'right claims bits 0–15 of left',
    });
    expect(found(text.slice(0, 2000))?.found).toMatch(/^broken XML/);
    expect(found('<!DOCTYPE AUTOSAR [<!ENTITY a "b">]><AUTOSAR/>')?.found).toMatch(/^a document type/);
    expect(found('<html/>')?.expected).toBe('an AUTOSAR 4 system description: <AUTOSAR>');
    expect(found('')?.found).toMatch(/^broken XML|no element/);
    expect(found('<AUTOSAR/>')?.found).toBe('no CAN-CLUSTER');
  });

  test('private data of others is passed over, damaged data of our own costs only itself', () => {
    const foreign = text.replaceAll('SDG GID="Bywright"', 'SDG GID="Other"');
    const read = readAutosar(foreign);
    expect(read.problems).toEqual([]);
    expect(read.dictionaries[0]?.messages[0]).not.toHaveProperty('counter');
    const damaged = readAutosar(text.replace(/(<SD GID="kind">).*?(<\/SD>)/, '$1{$2'));
    expect(damaged.problems).toEqual([]);
    expect(damaged.dictionaries[0]?.messages[0]?.signals).toHaveLength(3);
  });

  test('elements that no dictionary can hold are listed, not dropped in silence', () => {
    const changed = text
      .replace('<ENCODING>', '')
      .replace(/<BASE-TYPE-ENCODING>NONE/g, '<BASE-TYPE-ENCODING>IEEE754')
      .replace(
        /<I-SIGNAL-I-PDU>([\s\S]*?)<\/I-SIGNAL-I-PDU>/,
        '<I-SIGNAL-I-PDU>$1</I-SIGNAL-I-PDU><SECURED-I-PDU><SHORT-NAME>Sec</SHORT-NAME></SECURED-I-PDU>',
      )
      .replace(
        '</PDU-TO-FRAME-MAPPING>',
        '</PDU-TO-FRAME-MAPPING><PDU-TO-FRAME-MAPPING><PDU-REF>/Pdus/Sec</PDU-REF></PDU-TO-FRAME-MAPPING>',
      );
    expect(readAutosar(changed).leftOut).toEqual([
      'a signal that is no whole number (floating point, text, digits): 2 times (/Signals/left, /Signals/right)',
      'SECURED-I-PDU, whose content no dictionary can hold: once (/Pdus/Sec)',
    ]);
  });

  test('changed files never crash the reader, and what comes of them has no problems', () => {
    const words = fc.constantFrom(
      '',
      '<',
      '&',
      '-1',
      '9999999999',
      'NaN',
      '/Signals/left',
      '</AR-PACKAGE>',
      '<SD GID="length">-4</SD>',
      'null',
      '[]',
      '0x10',
      '\u0000',
    );
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat(text.length - 1), fc.nat(30), words), { minLength: 1, maxLength: 4 }),
        (changes) => {
          let changed = text;
          for (const [at, length, word] of changes)
            changed = changed.slice(0, at) + word + changed.slice(at + length);
          for (const d of readAutosar(changed).dictionaries) expect(dictionaryProblems(d)).toEqual([]);
        },
      ),
      { numRuns: 150 },
    );
    // Values inside elements and inside our own data, so that the text stays XML.
    const slots = [...text.matchAll(/>([^<>\s][^<>]*)</g)].map(
      (m) => [m.index + 1, m.index + 1 + (m[1] as string).length] as const,
    );
    fc.assert(
      fc.property(
        fc.nat(slots.length - 1),
        words.filter((w) => !/[<&\0]/.test(w)),
        (slot, word) => {
          const [from, to] = slots[slot] as readonly [number, number];
          for (const d of readAutosar(text.slice(0, from) + word + text.slice(to)).dictionaries)
            expect(dictionaryProblems(d)).toEqual([]);
        },
      ),
      { numRuns: 100 },
    );
  });
});
