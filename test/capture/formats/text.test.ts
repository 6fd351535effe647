import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { text } from '../../../src/capture/formats/text.ts';
import { captureOf, frame, framesOf, readBytes, readText, written } from '../frames.ts';

const HEADER = 't,bus,id,ext,data\n';

describe('CSV as the project writes it', () => {
  test('plain data frames need time, bus, id, ext and data only', () => {
    const capture = captureOf([
      frame(0, 0x1a0, [0xf9, 0]),
      frame(1_500_000, 0xcf00400, [255], { flags: FLAG.extended, bus: 2 }),
    ]);
    expect(new TextDecoder().decode(written(text, capture))).toBe(
      't,bus,id,ext,data\n0.000000,0,1A0,0,f900\n0.001500,2,0CF00400,1,ff\n',
    );
  });

  test('nanoseconds, remote and FD frames bring the digits and columns that they need', () => {
    const capture = captureOf([
      frame(1, 0x1a0, [], { flags: FLAG.remote, length: 4 }),
      frame(2, 0x1a1, Array(12).fill(1), { flags: FLAG.fd | FLAG.bitRateSwitch | FLAG.sent }),
    ]);
    expect(new TextDecoder().decode(written(text, capture))).toBe(
      't,bus,id,ext,data,length,flags\n0.000000001,0,1A0,0,,4,R\n0.000000002,0,1A1,0,010101010101010101010101,12,FBT\n',
    );
  });

  test('absolute time is written since 1970 and negative time with its sign', () => {
    const absolute = captureOf([frame(1_700_000_000_000_001_000n, 1, [])]);
    expect(new TextDecoder().decode(written(text, absolute))).toContain('\n1700000000.000001,');
    const negative = captureOf([frame(-1_500_000_000, 1, []), frame(-1, 1, [])]);
    expect(new TextDecoder().decode(written(text, negative))).toMatch(/\n-1\.500000000,.*\n-0\.000000001,/);
  });
});

describe('times', () => {
  const times = (lines: string, columns = 'time,id,data') => {
    const { capture } = readText(text, lines, { columns });
    return { origin: capture.originNs, time: [...capture.time] };
  };

  test('a time is the nearest double to its decimals', () => {
    const written = ['0.1', '0.003400', '123456.789012345', '-0.25', '7', '1.5e-3', '+2.5'];
    expect(times(written.map((t) => `${t} 123 00`).join('\n')).time).toEqual(written.map(Number));
  });

  test('nanoseconds since 1970 keep their last digit', () => {
    const { origin, time } = times('1700000000123456789,1,00\n1700000000123456791,1,00\n', 'time:ns,id,data');
    expect(origin).toBe(1_700_000_000_123_456_789n);
    expect(time).toEqual([0, 2e-9]);
  });

  test('milliseconds and microseconds are scaled, decimal commas read', () => {
    expect(times('1,5;1;00\n2,25;1;00\n', 'time:ms,id,data').time).toEqual([0.0015, 0.00225]);
    expect(times('7;1;00\n12;1;00\n', 'time:us,id,data').time).toEqual([7e-6, 12e-6]);
  });

  test('clock times count from midnight, dates from 1970', () => {
    expect(times('1:00:00.5 1 00\n01:00:02 1 00\n', 'time:clock,id,data').time).toEqual([3600.5, 3602]);
    const dated = times('2024-05-01T13:00:00.25Z,1,00\n2024-05-01 13:00:01,1,00\n', 'time:date,id,data');
    expect(dated.origin).toBe(BigInt(Date.UTC(2024, 4, 1, 13)) * 1_000_000n + 250_000_000n);
    expect(dated.time).toEqual([0, 0.75]);
    const split = times('2024-05-01 13:00:00.25 1 00\n2024-05-02 00:00:00 1 00\n', 'day,time:clock,id,data');
    expect(split.time).toEqual([0, 11 * 3600 - 0.25]);
  });

  test('time that goes backwards is kept and counted by line', () => {
    const { notes } = readText(text, `${HEADER}1.0,0,1A0,0,00\n0.5,0,1A0,0,00\n0.7,0,1A0,0,00\n`);
    expect(notes).toEqual(['Time goes backwards once, first at line 3; frames stay in recorded order.']);
  });
});

test('bit 31 of a printed identifier word marks 29 bits, as in SocketCAN', () => {
  const { capture } = readText(text, '0.1 98FEF121 00\n0.2 80000123 00\n0.3 123 00\n', {
    columns: 'time,id,data',
  });
  expect([...capture.id]).toEqual([0x18fef121, 0x123, 0x123]);
  expect([...capture.flags]).toEqual([FLAG.extended, FLAG.extended, 0]);
});

test('a frame of length 0 has no payload column where blanks separate', () => {
  const lines = '0.1 123 2 0011 Rx\n0.2 123 0 Tx\n';
  const { capture } = readText(text, lines, { columns: 'time,id,length,data,direction' });
  expect([...capture.length]).toEqual([2, 0]);
  expect([...capture.flags]).toEqual([0, FLAG.sent]);
});

describe('buses', () => {
  test('names get the number they end in, else the lowest free one', () => {
    const { capture, notes } = readText(
      text,
      '0.1 can1 1 00\n0.2 body 1 00\n0.3 can1 1 00\n0.4 vcan1 1 00\n0.5 7 1 00\n',
      {
        columns: 'time,bus,id,data',
      },
    );
    expect([...capture.bus]).toEqual([1, 0, 1, 2, 7]);
    expect(notes).toEqual(['Bus names: body = 0, vcan1 = 2.']);
  });

  test('a bus beyond the 256 that can be told apart is no frame', () => {
    const lines = Array.from({ length: 257 }, (_, k) => `0.${1000 + k} bus-${k}th 1 00`);
    const { capture, notes } = readText(text, `${lines.join('\n')}\n`, { columns: 'time,bus,id,data' });
    expect(capture.count).toBe(256);
    expect(notes[0]).toBe('1 line was skipped: line 257 holds a bus beyond the 256 that can be told apart.');
  });
});

describe('lines that give no frame', () => {
  test('comments and blank lines are passed over without a word', () => {
    const { capture, notes } = readText(text, `# from the bench\n\n${HEADER}\n0.1,0,1A0,0,00\n  \n# end\n`);
    expect(capture.count).toBe(1);
    expect(notes).toEqual([]);
  });

  test.each([
    ['x,0,1A0,0,00', 'no readable time'],
    ['1234567890123456.5,0,1A0,0,00', 'no readable time'],
    ['0.2,0,20000000,1,00', 'no identifier between 0 and 1FFFFFFF'],
    ['0.2,0,800,0,00', 'no identifier between 0 and 1FFFFFFF'],
    ['0.2,0,1A0,0,0g', 'no payload of 0 to 8, 12, 16, 20, 24, 32, 48 or 64 whole bytes'],
    ['0.2,0,1A0,0,0102030405060708ff', 'no payload of 0 to 8, 12, 16, 20, 24, 32, 48 or 64 whole bytes'],
    ['0.2,0,1A0', 'too few columns'],
  ])('%s is skipped, counted and located', (line, words) => {
    const { capture, notes } = readText(
      text,
      `${HEADER}0.1,0,1A0,0,00\n${line}\n0.3,0,1A0,0,00\n${line}\n0.5,0,1A0,0,00\n`,
    );
    expect(capture.count).toBe(3);
    expect(notes).toEqual([`2 lines were skipped, the first of them line 3: it holds ${words}.`]);
  });

  test('a length that does not fit the payload is no frame, a DLC that does is one', () => {
    const columns = 'time,id,length,data';
    const { capture, notes } = readText(
      text,
      `0.1,1,2,0011\n0.2,1,3,0011\n0.3,1,9,${'00'.repeat(12)}\n0.4,1,2,0011\n`,
      { columns },
    );
    expect([...capture.length]).toEqual([2, 12, 2]);
    expect(notes).toEqual(['1 line was skipped: line 2 holds a length that does not fit its payload.']);
  });
});

describe('the last line', () => {
  const start = `${HEADER}0.1,0,1A0,0,0011223344556677\n`;

  test('whole, it needs no line end', () => {
    const { capture, notes } = readText(text, `${start}0.2,0,1A0,0,0011223344556699`);
    expect(capture.count).toBe(2);
    expect(notes).toEqual([]);
  });

  test('shorter than its message was before, it is left out', () => {
    const { capture, notes } = readText(text, `${start}0.2,0,1A0,0,001122`);
    expect(capture.count).toBe(1);
    expect(notes).toEqual(['The last line (3) was cut short and is left out.']);
  });

  test('unreadable, it is called cut rather than wrong', () => {
    expect(readText(text, `${start}0.2,0,1A0,0,00112`).notes).toEqual([
      'The last line (3) was cut short and is left out.',
    ]);
    expect(readText(text, `${start}0.`).notes).toEqual(['The last line (3) was cut short and is left out.']);
  });

  test('of a message that was not seen before, it is kept with a doubt', () => {
    const { capture, notes } = readText(text, `${start}0.2,0,1A1,0,001122`);
    expect(capture.count).toBe(2);
    expect(notes).toEqual(['The last line (3) has no line end and may be cut short; it is kept as it is.']);
  });
});

describe('what is no recording', () => {
  test.each([
    ['', /empty/],
    ['\n\n\n', /holds no line of text|no line holds more than one column/],
    ['t,speed,heading\n0.1,2.5,90.0\n0.2,2.6,90.1\n', /the columns t, speed, heading name no identifier/],
    [
      't,source,signal,value\n0.1,204,Heading,6.07\n0.2,205,Yaw,-0.2\n',
      /the columns t, source, signal, value hold no payload/,
    ],
    ['id,data\n1A0,0011\n1A1,2233\n', /the columns id, data name no time/],
    ['Dear reader, this is a letter.\nIt holds no frame at all, not one.\n', /not a recording of frames/],
  ])('%j is refused in one sentence that says what is missing', (content, words) => {
    expect(() => readText(text, content)).toThrow(words);
  });

  test('binary content is refused with the place of its first such byte', () => {
    expect(() => readBytes(text, Uint8Array.of(65, 66, 10, 0, 1))).toThrow(
      'byte 3 is 0x00, which no text holds',
    );
  });

  test('UTF-16 is named, a mark of UTF-8 is passed over', () => {
    const utf16 = Uint8Array.from([0xff, 0xfe, ...[...HEADER].flatMap((c) => [c.charCodeAt(0), 0])]);
    expect(() => readBytes(text, utf16)).toThrow(
      'The text is in UTF-16 (byte order mark at byte 0): save it as UTF-8 or plain ASCII.',
    );
    const marked = Uint8Array.from([
      0xef,
      0xbb,
      0xbf,
      ...new TextEncoder().encode(`${HEADER}0.1,0,1A0,0,00\n`),
    ]);
    expect(readBytes(text, marked, [1]).capture.count).toBe(1);
  });

  test('a line that does not end is refused before it fills the memory', () => {
    expect(() => readText(text, 'x'.repeat(300_000))).toThrow(
      'Line 1 is longer than 65536 bytes: a text recording has one frame a line.',
    );
    const late = `${HEADER}${'0.1,0,1A0,0,00\n'.repeat(6000)}${'7'.repeat(300_000)}`;
    expect(() => readBytes(text, new TextEncoder().encode(late), [50_000])).toThrow(
      'Line 6002 is longer than 65536 bytes',
    );
  });
});

test('a line split anywhere between two pieces is read whole', () => {
  const lines = Array.from(
    { length: 5000 },
    (_, k) =>
      `${(k / 1000).toFixed(6)},${k % 3},${(0x100 + (k % 50)).toString(16)},0,${k.toString(16).padStart(8, '0')}\r\n`,
  );
  const bytes = new TextEncoder().encode(HEADER + lines.join(''));
  const whole = framesOf(readBytes(text, bytes).capture);
  expect(whole.length).toBe(5000);
  expect(whole[4321]).toEqual(
    frame(4_321_000_000, 0x100 + (4321 % 50), [0, 0, 0x10, 0xe1], { bus: 4321 % 3 }),
  );
  for (const size of [997, 65_536, 70_001])
    expect(framesOf(readBytes(text, bytes, [size]).capture)).toEqual(whole);
});

describe('frames that carry no payload, or FD', () => {
  test('R in place of a joined payload is a remote frame, with its length where it stands there', () => {
    const lines = ['0.1 1A0#0011', '0.2 1A1#R', '0.3 18FEF121#R8', '0.4 1A0#r3', '0.5 1A0#R9', '0.6 1A0#Rx'];
    const { capture, notes } = readText(text, `${lines.join('\n')}\n0.7 1A0#00\n0.8 1A0#00\n0.9 1A0#00\n`);
    expect(framesOf(capture)).toEqual([
      frame(100_000_000, 0x1a0, [0, 0x11]),
      frame(200_000_000, 0x1a1, [], { flags: FLAG.remote, length: 0 }),
      frame(300_000_000, 0x18fef121, [], { flags: FLAG.remote | FLAG.extended, length: 8 }),
      frame(400_000_000, 0x1a0, [], { flags: FLAG.remote, length: 3 }),
      frame(700_000_000, 0x1a0, [0]),
      frame(800_000_000, 0x1a0, [0]),
      frame(900_000_000, 0x1a0, [0]),
    ]);
    expect(notes).toEqual([
      '2 lines were skipped, the first of them line 5: it holds a length that does not fit its payload.',
    ]);
  });

  test('a recording of nothing but joined remote frames is one', () => {
    const { capture } = readText(text, '0.1 can0 1A0#R\n0.2 can0 1A1#R2\n0.3 can0 1A2#R\n');
    expect([...capture.flags]).toEqual([FLAG.remote, FLAG.remote, FLAG.remote]);
  });

  test('letters of a bit-rate switch or an error state make a frame FD, whether F stands there or not', () => {
    const csv =
      't,bus,id,ext,data,length,flags\n0.1,0,1A0,0,00,1,B\n0.2,0,1A0,0,00,1,E\n0.3,0,1A0,0,00,1,FBE\n0.4,0,1A0,0,00,1,\n';
    expect([...readText(text, csv).capture.flags]).toEqual([
      FLAG.fd | FLAG.bitRateSwitch,
      FLAG.fd | FLAG.errorState,
      FLAG.fd | FLAG.bitRateSwitch | FLAG.errorState,
      0,
    ]);
  });

  test('an error message keeps an identifier word of more than 11 bits', () => {
    const csv = 't,bus,id,ext,data,length,flags\n0.1,0,1FFFFFFF,0,0001020304050607,8,W\n0.2,0,800,0,00,1,\n';
    const { capture, notes } = readText(text, csv);
    expect([...capture.id]).toEqual([0x1fff_ffff]);
    expect(notes).toEqual(['1 line was skipped: line 3 holds no identifier between 0 and 1FFFFFFF.']);
  });
});
