/**
 * AUTOSAR system descriptions against published structure and examples. Sources: element names and walk as in the AUTOSAR
 * CP System Template (R23-11) and a public AUTOSAR library (github DanielT/autosar-data-abstraction, src/communication,
 * src/datatype/compu_method.rs); tag spelling partly from memory. Bytes of end-to-end profiles: AUTOSAR PRS E2E protocol
 * (tables 6.42 to 6.102, R23-11), as quoted by two public test suites; profile 01 from COVESA/vsomeip e2e tests.
 */
import { describe, expect, test } from 'vitest';
import { checkValue, writeCheck } from '../../src/can/check.ts';
import { readAutosar, writeAutosar } from '../../src/dictionary/autosar/index.ts';
import { fieldBits, writeBits } from '../../src/dictionary/bits.ts';
import type { Check, Counter, Message } from '../../src/dictionary/model.ts';

interface Case {
  id?: number;
  mode?: string;
  frameBytes?: number;
  pdu?: string;
  mappings?: string;
  signals?: string;
  more?: string;
  period?: string;
}

/** The smallest file with one frame "Speeds" and its PDU. */
function file(given: Case): string {
  const {
    id = 291,
    mode = 'STANDARD',
    frameBytes = 8,
    mappings = '',
    signals = '',
    more = '',
    period = '',
  } = given;
  const pdu =
    given.pdu ??
    `<I-SIGNAL-I-PDU><SHORT-NAME>P</SHORT-NAME><LENGTH>${frameBytes}</LENGTH>${period}<I-SIGNAL-TO-PDU-MAPPINGS>${mappings}</I-SIGNAL-TO-PDU-MAPPINGS></I-SIGNAL-I-PDU>`;
  return `<?xml version="1.0" encoding="utf-8"?>
<AUTOSAR xmlns="http://autosar.org/schema/r4.0"><AR-PACKAGES>
<AR-PACKAGE><SHORT-NAME>C</SHORT-NAME><ELEMENTS><CAN-CLUSTER><SHORT-NAME>body</SHORT-NAME><CAN-CLUSTER-VARIANTS><CAN-CLUSTER-CONDITIONAL>
<BAUDRATE>500000</BAUDRATE><PHYSICAL-CHANNELS><CAN-PHYSICAL-CHANNEL><SHORT-NAME>Ch</SHORT-NAME><FRAME-TRIGGERINGS><CAN-FRAME-TRIGGERING><SHORT-NAME>T</SHORT-NAME>
<FRAME-PORT-REFS><FRAME-PORT-REF DEST="FRAME-PORT">/E/Brakes/Con/Out</FRAME-PORT-REF><FRAME-PORT-REF DEST="FRAME-PORT">/E/Dash/Con/In</FRAME-PORT-REF></FRAME-PORT-REFS>
<FRAME-REF DEST="CAN-FRAME">/F/Speeds</FRAME-REF><CAN-ADDRESSING-MODE>${mode}</CAN-ADDRESSING-MODE><IDENTIFIER>${id}</IDENTIFIER></CAN-FRAME-TRIGGERING></FRAME-TRIGGERINGS>
</CAN-PHYSICAL-CHANNEL></PHYSICAL-CHANNELS></CAN-CLUSTER-CONDITIONAL></CAN-CLUSTER-VARIANTS></CAN-CLUSTER></ELEMENTS></AR-PACKAGE>
<AR-PACKAGE><SHORT-NAME>F</SHORT-NAME><ELEMENTS><CAN-FRAME><SHORT-NAME>Speeds</SHORT-NAME><FRAME-LENGTH>${frameBytes}</FRAME-LENGTH><PDU-TO-FRAME-MAPPINGS><PDU-TO-FRAME-MAPPING><SHORT-NAME>M</SHORT-NAME>
<PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-LAST</PACKING-BYTE-ORDER><PDU-REF DEST="I-SIGNAL-I-PDU">/P/P</PDU-REF><START-POSITION>0</START-POSITION></PDU-TO-FRAME-MAPPING></PDU-TO-FRAME-MAPPINGS></CAN-FRAME></ELEMENTS></AR-PACKAGE>
<AR-PACKAGE><SHORT-NAME>P</SHORT-NAME><ELEMENTS>${pdu}</ELEMENTS></AR-PACKAGE>
<AR-PACKAGE><SHORT-NAME>S</SHORT-NAME><ELEMENTS>${signals}</ELEMENTS></AR-PACKAGE>
<AR-PACKAGE><SHORT-NAME>E</SHORT-NAME><ELEMENTS>${unit('Brakes', 'OUT', 'Out')}${unit('Dash', 'IN', 'In')}</ELEMENTS></AR-PACKAGE>
${more}</AR-PACKAGES></AUTOSAR>`;
}

function unit(name: string, direction: string, port: string): string {
  return `<ECU-INSTANCE><SHORT-NAME>${name}</SHORT-NAME><CONNECTORS><CAN-COMMUNICATION-CONNECTOR><SHORT-NAME>Con</SHORT-NAME><ECU-COMM-PORT-INSTANCES><FRAME-PORT><SHORT-NAME>${port}</SHORT-NAME><COMMUNICATION-DIRECTION>${direction}</COMMUNICATION-DIRECTION></FRAME-PORT></ECU-COMM-PORT-INSTANCES></CAN-COMMUNICATION-CONNECTOR></CONNECTORS></ECU-INSTANCE>`;
}

function mapping(name: string, start: number, order: 'FIRST' | 'LAST' = 'LAST', more = ''): string {
  return `<I-SIGNAL-TO-I-PDU-MAPPING><SHORT-NAME>M_${name}</SHORT-NAME><I-SIGNAL-REF DEST="I-SIGNAL">/S/${name}</I-SIGNAL-REF><PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-${order}</PACKING-BYTE-ORDER><START-POSITION>${start}</START-POSITION>${more}</I-SIGNAL-TO-I-PDU-MAPPING>`;
}

function signal(name: string, length: number, properties = ''): string {
  const network = properties
    ? `<NETWORK-REPRESENTATION-PROPS><SW-DATA-DEF-PROPS-VARIANTS><SW-DATA-DEF-PROPS-CONDITIONAL>${properties}</SW-DATA-DEF-PROPS-CONDITIONAL></SW-DATA-DEF-PROPS-VARIANTS></NETWORK-REPRESENTATION-PROPS>`
    : '';
  return `<I-SIGNAL><SHORT-NAME>${name}</SHORT-NAME><LENGTH>${length}</LENGTH>${network}</I-SIGNAL>`;
}

function only(text: string): { message: Message; left: string[] } {
  const { dictionaries, leftOut, problems } = readAutosar(text);
  expect(problems).toEqual([]);
  expect(dictionaries).toHaveLength(1);
  return { message: dictionaries[0]?.messages[0] as Message, left: leftOut };
}

describe('the walk from triggering to signal (System Template; DanielT/autosar-data-abstraction, src/communication)', () => {
  test('identifier, addressing mode, length, period, sender and the places of the 8-byte example PDU, which tiles all 64 bits', () => {
    const update = (bit: number) => `<UPDATE-INDICATION-BIT-POSITION>${bit}</UPDATE-INDICATION-BIT-POSITION>`;
    const { message } = only(
      file({
        id: 0x18fef121,
        mode: 'EXTENDED',
        period:
          '<I-PDU-TIMING-SPECIFICATIONS><I-PDU-TIMING><TRANSMISSION-MODE-DECLARATION><TRANSMISSION-MODE-TRUE-TIMING><CYCLIC-TIMING><TIME-PERIOD><VALUE>0.02</VALUE></TIME-PERIOD></CYCLIC-TIMING></TRANSMISSION-MODE-TRUE-TIMING></TRANSMISSION-MODE-DECLARATION></I-PDU-TIMING></I-PDU-TIMING-SPECIFICATIONS>',
        mappings: [
          mapping('a', 7, 'FIRST', update(60)),
          mapping('b', 16, 'LAST', update(61)),
          mapping('c', 19, 'LAST', update(62)),
          mapping('d', 26, 'LAST', update(63)),
          mapping('e', 59, 'FIRST'),
        ].join(''), // start, length, order and update bit of each: the library's validator test
        signals: signal('a', 16) + signal('b', 3) + signal('c', 7) + signal('d', 30) + signal('e', 4),
      }),
    );
    expect(message).toMatchObject({
      name: 'Speeds',
      id: 0x18fef121,
      extended: true,
      length: 8,
      periodMs: 20,
      sender: 'Brakes',
    });
    const bits = message.signals.flatMap((s) => fieldBits(s)).sort((a, b) => a - b);
    expect(bits).toEqual(Array.from({ length: 64 }, (_, bit) => bit));
    expect(message.signals.map((s) => s.name)).toContain('d updated');
  });

  test('two PDUs in one frame: little-endian ones start at 0, 8, 16, big-endian ones at 7, 15, 23 (same library, documentation of the mapping)', () => {
    for (const [start, order] of [
      [16, 'LAST'],
      [23, 'FIRST'],
    ] as const) {
      const text = file({ mappings: mapping('a', 4), signals: signal('a', 3) })
        .replace(
          '<PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-LAST</PACKING-BYTE-ORDER><PDU-REF',
          `<PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-${order}</PACKING-BYTE-ORDER><PDU-REF`,
        )
        .replace(
          '<START-POSITION>0</START-POSITION></PDU-TO-FRAME-MAPPING>',
          `<START-POSITION>${start}</START-POSITION></PDU-TO-FRAME-MAPPING>`,
        );
      expect(only(text).message.signals[0]?.start).toBe(20);
    }
  });

  test('a multiplexed PDU: selector, static part and alternatives (System Template, multiplexed I-PDU)', () => {
    const part = (name: string, inner: string) =>
      `<I-SIGNAL-I-PDU><SHORT-NAME>${name}</SHORT-NAME><LENGTH>8</LENGTH><I-SIGNAL-TO-PDU-MAPPINGS>${inner}</I-SIGNAL-TO-PDU-MAPPINGS></I-SIGNAL-I-PDU>`;
    const alternative = (name: string, code: number) =>
      `<DYNAMIC-PART-ALTERNATIVE><I-PDU-REF DEST="I-SIGNAL-I-PDU">/P/${name}</I-PDU-REF><INITIAL-DYNAMIC-PART>false</INITIAL-DYNAMIC-PART><SELECTOR-FIELD-CODE>${code}</SELECTOR-FIELD-CODE></DYNAMIC-PART-ALTERNATIVE>`;
    const pdu =
      `<MULTIPLEXED-I-PDU><SHORT-NAME>P</SHORT-NAME><LENGTH>8</LENGTH><DYNAMIC-PARTS><DYNAMIC-PART><DYNAMIC-PART-ALTERNATIVES>${alternative('A', 0)}${alternative('B', 3)}</DYNAMIC-PART-ALTERNATIVES></DYNAMIC-PART></DYNAMIC-PARTS>` +
      '<SELECTOR-FIELD-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-LAST</SELECTOR-FIELD-BYTE-ORDER><SELECTOR-FIELD-LENGTH>2</SELECTOR-FIELD-LENGTH><SELECTOR-FIELD-START-POSITION>0</SELECTOR-FIELD-START-POSITION><STATIC-PARTS><STATIC-PART><I-PDU-REF DEST="I-SIGNAL-I-PDU">/P/St</I-PDU-REF></STATIC-PART></STATIC-PARTS></MULTIPLEXED-I-PDU>' +
      part('St', mapping('s', 56)) +
      part('A', mapping('a', 8)) +
      part('B', mapping('b', 8));
    const { message } = only(file({ pdu, signals: signal('s', 8) + signal('a', 16) + signal('b', 12) }));
    expect(message.selector).toEqual({ start: 0, length: 2, byteOrder: 'little' });
    expect(message.signals.map((s) => [s.name, s.start, s.selectorValue])).toEqual([
      ['s', 56, undefined],
      ['a', 8, 0],
      ['b', 8, 3],
    ]);
  });
});

describe('conversions (same library, src/datatype/compu_method.rs)', () => {
  const convert = (category: string, scales: string, direction = 'COMPU-INTERNAL-TO-PHYS') =>
    only(
      file({
        mappings: mapping('a', 0),
        signals:
          signal(
            'a',
            8,
            '<BASE-TYPE-REF DEST="SW-BASE-TYPE">/S/s8</BASE-TYPE-REF><COMPU-METHOD-REF DEST="COMPU-METHOD">/S/cm</COMPU-METHOD-REF><DATA-CONSTR-REF DEST="DATA-CONSTR">/S/dc</DATA-CONSTR-REF>',
          ) +
          '<SW-BASE-TYPE><SHORT-NAME>s8</SHORT-NAME><BASE-TYPE-SIZE>8</BASE-TYPE-SIZE><BASE-TYPE-ENCODING>2C</BASE-TYPE-ENCODING></SW-BASE-TYPE>' +
          '<UNIT><SHORT-NAME>kmh</SHORT-NAME><DISPLAY-NAME>km/h</DISPLAY-NAME></UNIT>' +
          '<DATA-CONSTR><SHORT-NAME>dc</SHORT-NAME><DATA-CONSTR-RULES><DATA-CONSTR-RULE><INTERNAL-CONSTRS><LOWER-LIMIT>-10</LOWER-LIMIT><UPPER-LIMIT>20</UPPER-LIMIT></INTERNAL-CONSTRS></DATA-CONSTR-RULE></DATA-CONSTR-RULES></DATA-CONSTR>' +
          `<COMPU-METHOD><SHORT-NAME>cm</SHORT-NAME><CATEGORY>${category}</CATEGORY><UNIT-REF DEST="UNIT">/S/kmh</UNIT-REF><${direction}><COMPU-SCALES>${scales}</COMPU-SCALES></${direction}></COMPU-METHOD>`,
      }),
    );
  const line = (numerator: number[], denominator: number[]) =>
    `<COMPU-SCALE><COMPU-RATIONAL-COEFFS><COMPU-NUMERATOR>${numerator.map((n) => `<V>${n}</V>`).join('')}</COMPU-NUMERATOR><COMPU-DENOMINATOR>${denominator.map((n) => `<V>${n}</V>`).join('')}</COMPU-DENOMINATOR></COMPU-RATIONAL-COEFFS></COMPU-SCALE>`;
  const name = (low: number, high: number, text: string) =>
    `<COMPU-SCALE><LOWER-LIMIT>${low}</LOWER-LIMIT><UPPER-LIMIT>${high}</UPPER-LIMIT><COMPU-CONST><VT>${text}</VT></COMPU-CONST></COMPU-SCALE>`;

  test('LINEAR: phys = (offset + factor × raw) / divisor; limits inside go through it', () => {
    const { message, left } = convert('LINEAR', line([-40, 3], [2]));
    expect(message.signals[0]).toMatchObject({
      scale: 1.5,
      offset: -20,
      unit: 'km/h',
      signed: true,
      min: -35,
      max: 10,
    });
    expect(left).toEqual([]);
  });

  test('the other direction is turned round, named values are kept, and what is not linear is listed', () => {
    const back = convert('RAT_FUNC', line([80, 4], [2]), 'COMPU-PHYS-TO-INTERNAL').message.signals[0]; // raw = (80 + 4 phys) / 2
    expect(back).toMatchObject({ scale: 0.5, offset: -20 });
    const table = convert(
      'SCALE_LINEAR_AND_TEXTTABLE',
      line([0, 2], [1]) + name(-2, -1, 'off') + name(5, 5, 'on'),
    );
    expect(table.message.signals[0]).toMatchObject({
      scale: 2,
      values: { '-2': 'off', '-1': 'off', '5': 'on' },
    });
    const square = convert('RAT_FUNC', line([0, 1, 1], [1]));
    expect(square.message.signals[0]).toMatchObject({ scale: 1, offset: 0 });
    expect(square.left).toEqual([
      '1 scales of RAT_FUNC that are neither linear nor a name of single values: once (/S/cm)',
    ]);
    expect(convert('BITFIELD_TEXTTABLE', name(1, 1, 'x')).left[0]).toMatch(/^conversion BITFIELD_TEXTTABLE/);
  });
});

describe('end-to-end profiles give the published bytes', () => {
  /** Written by ourselves, our own data taken out: what another reader of AUTOSAR is told. */
  const throughOurs = (message: Message) => {
    const text = writeAutosar([{ dictionary: { form: 'dictionary/1', bus: 'body', messages: [message] } }]);
    return only(text.replace(/ *<ADMIN-DATA>[\s\S]*?<\/ADMIN-DATA>\n/g, '')).message;
  };
  const protectedFrame = (profile: string, ids: number[], bytes: number, settings = '') => {
    const group =
      '<I-SIGNAL-GROUP><SHORT-NAME>g</SHORT-NAME><TRANSFORMATION-I-SIGNAL-PROPSS><END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS><END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-VARIANTS><END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-CONDITIONAL>' +
      `<TRANSFORMER-REF DEST="TRANSFORMATION-TECHNOLOGY">/S/Set/E2E</TRANSFORMER-REF><DATA-IDS>${ids.map((id) => `<DATA-ID>${id}</DATA-ID>`).join('')}</DATA-IDS></END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-CONDITIONAL></END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-VARIANTS></END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS></TRANSFORMATION-I-SIGNAL-PROPSS></I-SIGNAL-GROUP>`;
    const technology = `<DATA-TRANSFORMATION-SET><SHORT-NAME>Set</SHORT-NAME><TRANSFORMATION-TECHNOLOGYS><TRANSFORMATION-TECHNOLOGY><SHORT-NAME>E2E</SHORT-NAME><TRANSFORMATION-DESCRIPTIONS><END-TO-END-TRANSFORMATION-DESCRIPTION><PROFILE-NAME>${profile}</PROFILE-NAME>${settings}</END-TO-END-TRANSFORMATION-DESCRIPTION></TRANSFORMATION-DESCRIPTIONS></TRANSFORMATION-TECHNOLOGY></TRANSFORMATION-TECHNOLOGYS></DATA-TRANSFORMATION-SET>`;
    const mappings =
      '<I-SIGNAL-TO-I-PDU-MAPPING><SHORT-NAME>mg</SHORT-NAME><I-SIGNAL-GROUP-REF DEST="I-SIGNAL-GROUP">/S/g</I-SIGNAL-GROUP-REF></I-SIGNAL-TO-I-PDU-MAPPING>';
    return only(file({ frameBytes: bytes, mappings, signals: group + technology }));
  };
  /** The payload as a sender fills it, counter and check written by the fields that were read. */
  const sent = (message: Message, count: number, fill: (payload: Uint8Array) => void = () => {}) => {
    const payload = new Uint8Array(message.length);
    fill(payload);
    writeBits(payload, 0, message.counter as Counter, count);
    writeCheck(message.check as Check, message.id, payload, 0, payload.length, count);
    return Buffer.from(payload).toString('hex').toUpperCase();
  };
  const list = Array.from({ length: 16 }, (_, i) => i + 1);

  test('profile 11, both bytes, ID 0123: CC 00 …, 91 01 … (PRS E2E tables of profile 11)', () => {
    const { message } = protectedFrame('PROFILE_11', [0x123], 8, '<DATA-ID-MODE>ALL-16-BIT</DATA-ID-MODE>');
    expect(sent(message, 0)).toBe('CC00000000000000');
    expect(sent(message, 1)).toBe('9101000000000000');
    expect(message.counter?.skip).toEqual([15]);
  });

  test('profile 11, nibble, ID 0123: 2A 10 …, 77 11 … (same tables; the nibble 1 is data)', () => {
    const { message } = protectedFrame('PROFILE_11', [0x123], 8, '<DATA-ID-MODE>LOWER-12-BIT</DATA-ID-MODE>');
    const nibble = (payload: Uint8Array) => (payload[1] = 0x10);
    expect(sent(message, 0, nibble)).toBe('2A10000000000000');
    expect(sent(message, 1, nibble)).toBe('7711000000000000');
  });

  test('profile 22, list 01 to 10: 1B 98 31 … for counters 1 to 15 and 0; with offset 64 14 01 (tables of profile 22)', () => {
    const { message } = protectedFrame('PROFILE_22', list, 8);
    const first = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 0].map((c) =>
      sent(message, c).slice(0, 2),
    );
    expect(first.join(' ')).toBe('1B 98 31 0D 18 9B 65 08 1D 9E 37 0B 1E 9D CD 0E');
    const far = protectedFrame('PROFILE_22', list, 16, '<OFFSET>64</OFFSET>').message;
    expect(sent(far, 1).slice(16, 20)).toBe('1401');
  });

  test('profile 04, ID 0A0B0C0D, 16 bytes: CRC 86 2B 05 56 (tables of profile 04; length and ID are data)', () => {
    const { message } = protectedFrame('PROFILE_04', [0x0a0b0c0d], 16);
    const head = (payload: Uint8Array) => payload.set([0, 16, 0, 0, 0x0a, 0x0b, 0x0c, 0x0d]);
    expect(sent(message, 0, head)).toBe('001000000A0B0C0D862B055600000000');
  });

  test('profiles 05 and 06, ID 1234, 8 bytes: 1C CA 00 … and B1 55 00 08 … (tables of profiles 05 and 06)', () => {
    expect(sent(protectedFrame('PROFILE_05', [0x1234], 8).message, 0)).toBe('1CCA000000000000');
    const six = protectedFrame('PROFILE_06', [0x1234], 8).message;
    expect(sent(six, 0, (payload) => payload.set([0, 8], 2))).toBe('B155000800000000');
  });

  test('profile 01, nibble, ID 0A73, data byte n: F9 E2 CF … (COVESA/vsomeip, e2e profile 01 test)', () => {
    const { message } = protectedFrame('PROFILE_01', [0xa73], 8, '<DATA-ID-MODE>LOWER-12-BIT</DATA-ID-MODE>');
    const crcs = Array.from({ length: 10 }, (_, n) => {
      const payload = new Uint8Array([0, 0xa0 + n, n, 0xff, 0xff, 0xff, 0xff, 0xff]);
      return checkValue(message.check as Check, message.id, payload, 0, 8, n)
        .toString(16)
        .toUpperCase();
    });
    expect(crcs.join(' ')).toBe('F9 E2 CF D4 95 8E A3 B8 21 3A');
  });

  test('profile 01, alternating bytes, ID 0123, zero data: CE 00 …, 02 01 … (computed on another way, no published bytes)', () => {
    const { message } = protectedFrame(
      'PROFILE_01',
      [0x123],
      8,
      '<DATA-ID-MODE>ALTERNATING-8-BIT</DATA-ID-MODE>',
    );
    expect([sent(message, 0).slice(0, 4), sent(message, 1).slice(0, 4)]).toEqual(['CE00', '0201']);
  });

  test('what was read as profile 01, 05, 06, 11 or 22 is written as such, so that others find it in the standard elements', () => {
    const cases: [string, number[], string][] = [
      ['PROFILE_11', [0x123], '<DATA-ID-MODE>ALL-16-BIT</DATA-ID-MODE>'],
      [
        'PROFILE_01',
        [0x7f],
        '<DATA-ID-MODE>LOWER-8-BIT</DATA-ID-MODE><CRC-OFFSET>8</CRC-OFFSET><COUNTER-OFFSET>20</COUNTER-OFFSET>',
      ],
      ['PROFILE_05', [0x1234], '<OFFSET>16</OFFSET>'],
      ['PROFILE_06', [0x1234], ''],
      ['PROFILE_22', list, '<OFFSET>8</OFFSET>'],
    ];
    for (const [profile, ids, settings] of cases) {
      const { message } = protectedFrame(profile, ids, 8, settings);
      expect(throughOurs(message)).toEqual(message);
    }
    // One more bit changed, and it is none of them: then only our own data knows.
    const { message } = protectedFrame('PROFILE_11', [0x123], 8);
    const other = { ...message, check: { ...(message.check as Check), xorout: 1 } };
    expect(throughOurs(other).check).toBeUndefined();
  });

  test('profile 07 has a CRC of 64 bits, which no dictionary holds: that is said', () => {
    const { message, left } = protectedFrame('PROFILE_07', [1], 24);
    expect(message.check).toBeUndefined();
    expect(left).toEqual(['end-to-end PROFILE_07, which no dictionary can hold: once (/S/g)']);
  });
});
