/**
 * The SocketCAN link type and the file formats around it, against their published descriptions. LT = tcpdump.org,
 * "LINKTYPE_CAN_SOCKETCAN" (link-layer header type 227); PC = the pcap-savefile manual page of libpcap; NG = the pcapng
 * Internet draft of the IETF OPSAWG working group. The byte strings were made from these descriptions and read back by libpcap 1.10.
 */
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { pcap } from '../../src/capture/formats/pcap.ts';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import { block, pcapBytes } from '../capture/bytes.ts';
import { captureOf, type Frame, frame, framesOf, readBytes, written } from '../capture/frames.ts';

const hex = (text: string) => text.split(' ').map((byte) => Number.parseInt(byte, 16));
const twelve = Array.from({ length: 12 }, (_, k) => k + 1);

const RECORDS: [string, number[], Frame][] = [
  // LT: identifier big-endian, length in octet 4, payload from octet 8, padding to 16.
  [
    '123 with three bytes',
    hex('00 00 01 23 03 00 00 00 01 02 03 00 00 00 00 00'),
    frame(0, 0x123, [1, 2, 3]),
  ],
  // LT: 0x80000000 marks 29 bits.
  [
    '18FEF121 with eight bytes',
    hex('98 FE F1 21 08 00 00 00 01 02 03 04 05 06 07 08'),
    frame(0, 0x18fef121, [1, 2, 3, 4, 5, 6, 7, 8], { flags: FLAG.extended }),
  ],
  // LT: octet 5 holds the FD flags: 01 bit rate switch, 02 error state, 04 FD frame; an FD record has 72 octets.
  [
    'FD frame 7FF with twelve bytes and bit rate switch',
    [...hex('00 00 07 FF 0C 05 00 00'), ...twelve, ...Array(52).fill(0)],
    frame(0, 0x7ff, twelve, { flags: FLAG.fd | FLAG.bitRateSwitch }),
  ],
  // LT: 0x40000000 marks a remote frame, whose length is its DLC and which has no payload.
  [
    'remote frame 321 that asks for four bytes',
    hex('40 00 03 21 04 00 00 00 00 00 00 00 00 00 00 00'),
    frame(0, 0x321, [], { flags: FLAG.remote, length: 4 }),
  ],
  // LT: 0x20000000 marks an error message, with eight octets of payload.
  [
    'error message of class 004',
    hex('20 00 00 04 08 00 00 00 00 04 00 00 00 00 00 00'),
    frame(0, 0x004, [0, 4, 0, 0, 0, 0, 0, 0], { flags: FLAG.error }),
  ],
];

describe('records of LINKTYPE_CAN_SOCKETCAN', () => {
  test.each(RECORDS)('%s reads as the frame it is and is written so', (_, data, expected) => {
    const bytes = pcapBytes([{ seconds: 0, fraction: 0, data }]);
    expect(framesOf(readBytes(pcap, bytes).capture)).toEqual([expected]);
    expect([...written(pcap, captureOf([expected])).subarray(40)]).toEqual(data);
  });

  test('an original length of 72 says FD even where octet 5 does not', () => {
    const data = [...hex('00 00 07 FF 0C 00 00 00'), ...twelve]; // LT: reader order; capture cut behind the payload
    const bytes = pcapBytes([{ seconds: 0, fraction: 0, data, original: 72 }]);
    expect(framesOf(readBytes(pcap, bytes).capture)).toEqual([frame(0, 0x7ff, twelve, { flags: FLAG.fd })]);
  });

  test('raw DLC 9 to 15 in octet 7 leaves a classical frame at eight bytes', () => {
    const data = hex('00 00 01 23 08 00 00 0F 01 02 03 04 05 06 07 08'); // LT: octet 7
    const bytes = pcapBytes([{ seconds: 0, fraction: 0, data }]);
    expect(framesOf(readBytes(pcap, bytes).capture)).toEqual([frame(0, 0x123, [1, 2, 3, 4, 5, 6, 7, 8])]);
  });
});

describe('headers', () => {
  test('the first bytes of pcap tell order and resolution', () => {
    const rest = [
      ...pcapBytes([
        { seconds: 1, fraction: 2, data: (RECORDS[0] as [string, number[], Frame])[1] },
      ]).subarray(4),
    ];
    const little = (magic: string) => Uint8Array.from([...hex(magic), ...rest]);
    expect(readBytes(pcap, little('D4 C3 B2 A1')).capture.time[0]).toBe(1.000002); // PC: microseconds
    expect(readBytes(pcap, little('4D 3C B2 A1')).capture.time[0]).toBe(1.000000002); // PC: nanoseconds
    expect(pcap.recognises(Uint8Array.from(hex('A1 B2 C3 D4')))).toBe(true); // PC: big-endian, microseconds
    expect(pcap.recognises(Uint8Array.from(hex('A1 B2 3C 4D')))).toBe(true); // PC: big-endian, nanoseconds
    expect([...written(pcap, captureOf([frame(0, 1, [])])).subarray(0, 24)]).toEqual(
      hex('4D 3C B2 A1 02 00 04 00 00 00 00 00 00 00 00 00 00 00 04 00 E3 00 00 00'), // PC: version 2.4, link type 227 = E3
    );
  });

  test('a pcapng section, interface and packet are written as the draft lays them out', () => {
    const bytes = [...written(pcapng, captureOf([frame(5_000_000_000, 0x123, [1, 2, 3])]))];
    const section = hex(
      '0A 0D 0D 0A 1C 00 00 00 4D 3C 2B 1A 01 00 00 00 FF FF FF FF FF FF FF FF 1C 00 00 00',
    ); // NG 4.1
    const face = block(1, [
      ...hex('E3 00 00 00 00 00 00 00'), // NG 4.2: link type, reserved, no snapshot length
      ...hex('02 00 04 00 63 61 6E 30'), // if_name (2) "can0"
      ...hex('03 00 05 00 62 75 73 20 30 00 00 00'), // if_description (3) "bus 0"
      ...hex('09 00 01 00 09 00 00 00'), // if_tsresol (9): 10^-9 s
      ...hex('00 00 00 00'),
    ]);
    const packet = block(6, [
      ...hex('00 00 00 00 01 00 00 00 00 F2 05 2A 10 00 00 00 10 00 00 00'), // NG 4.3: 5e9 ns = 1 2A05F200
      ...(RECORDS[0] as [string, number[], Frame])[1],
    ]);
    expect(bytes).toEqual([...section, ...face, ...packet]);
  });
});
