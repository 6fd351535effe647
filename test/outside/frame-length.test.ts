/**
 * Frame lengths and CRC-15 against sources outside the project. LEN = Linux kernel header include/linux/can/length.h
 * (6.12); DAV = Davis, Burns, Bril, Lukkien 2007, equations 1–3, as a public Linux CAN header quotes them; CONF = frames of
 * a public conformance test for ISO 16845-1, clauses 8.1.6 and 8.1.7.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { classicalFrameBits, frameBits, frameCrc15, stuffedBits } from '../../src/can/length.ts';

const BASE = 0;
const EXT = FLAG.extended;
const hex = (text: string) => Uint8Array.from(text.match(/../g) ?? [], (b) => Number.parseInt(b, 16));

describe('published frame lengths', () => {
  test.each([0, 1, 2, 3, 4, 5, 6, 7, 8])('classical frames of %i bytes', (n) => {
    expect(frameBits(BASE, n)).toEqual({ least: 47 + 8 * n, worst: 55 + 10 * n }); // DAV eq. 3; least: LEN, can_frame_bits without stuffing
    expect(frameBits(EXT, n)).toEqual({ least: 67 + 8 * n, worst: 80 + 10 * n }); // DAV eq. 2; least: LEN
    const worst = (g: number) => g + 8 * n + 13 + Math.floor((g + 8 * n - 1) / 4);
    expect([frameBits(BASE, n).worst, frameBits(EXT, n).worst]).toEqual([worst(34), worst(54)]); // DAV eq. 1
  });

  test('the frame of 8 bytes takes 135 bits at worst, not the 130 of the analysis of 1994', () => {
    expect(frameBits(BASE, 8).worst).toBe(135); // DAV eq. 3; the older figure: "Guaranteeing Message Latencies", ICC'94, (269 + 48n)/5
  });

  // Counted from the field lengths that LEN gives (22 or 41 header bits, CRC field 28 or 33, footer 9, intermission 3).
  test.each([
    [0, 62, 67, 81, 91],
    [1, 70, 77, 89, 101],
    [2, 78, 87, 97, 111],
    [3, 86, 97, 105, 121],
    [4, 94, 107, 113, 131],
    [5, 102, 117, 121, 141],
    [6, 110, 127, 129, 151],
    [7, 118, 137, 137, 161],
    [8, 126, 147, 145, 171],
    [12, 158, 187, 177, 211],
    [16, 190, 227, 209, 251],
    [20, 227, 272, 246, 296],
    [24, 259, 312, 278, 336],
    [32, 323, 392, 342, 416],
    [48, 451, 552, 470, 576],
    [64, 579, 712, 598, 736],
  ])('CAN FD frames of %i bytes', (n, least, worst, leastExt, worstExt) => {
    expect(frameBits(FLAG.fd, n)).toEqual({ least, worst }); // field lengths: LEN
    expect(frameBits(FLAG.fd | EXT, n)).toEqual({ least: leastExt, worst: worstExt }); // field lengths: LEN
  });
});

describe('conformance frames', () => {
  // Identifier, flags and payload are published (CONF). CRC, number of stuff bits and total length are this project's own
  // counts, made independently of this code: the published test leaves them to its own model.
  test.each([
    [0x078, BASE, '01E1E1E1E1E1E1E1', 0x28a3, 19, 130],
    [0x41f, BASE, '00', 0x0c46, 5, 60],
    [0x47f, BASE, '1F', 0x66d7, 3, 58],
    [0x758, BASE, '', 0x26ad, 2, 49],
    [0x777, BASE, '1F', 0x3c31, 2, 57],
    [0x07c30f0f, EXT, '3C3C3C3C3C3C3C3C', 0x7121, 23, 154],
    [0x07c0f0f0, EXT, '00', 0x4c25, 5, 80],
    [0x1fb80000, EXT, 'A0', 0x06b8, 6, 81],
  ])('frame %# has its CRC, stuff bits and length', (id, flags, text, crc15, stuff, total) => {
    const payload = hex(text);
    expect(frameCrc15(id, flags, payload, 0, payload.length)).toBe(crc15); // own count
    expect(classicalFrameBits(id, flags, payload, 0, payload.length)).toBe(total); // own count
    expect(total - frameBits(flags, payload.length).least).toBe(stuff); // own count
  });

  test('a remote frame keeps its length code and has no payload', () => {
    expect(frameCrc15(0x7ef, FLAG.remote, new Uint8Array(0), 0, 2)).toBe(0x63be); // frame: CONF; CRC: own count
    expect(classicalFrameBits(0x7ef, FLAG.remote, new Uint8Array(0), 0, 2)).toBe(51); // frame: CONF; length: own count
  });

  test('the frame of a public question about stuffing', () => {
    const payload = hex('00CA22FF5566AADF'); // stackoverflow 35227664, which names no identifier
    expect(frameBits(BASE, 8).worst).toBe(135); // stackoverflow 35227664, worst case by formula
    expect(classicalFrameBits(0, BASE, payload, 0, 8)).toBe(118); // own count, with identifier 0
  });

  test('the stuffed bits of a frame, one by one', () => {
    expect(stuffedBits(0x41f, BASE, hex('00'), 0, 1).join('')).toBe(
      '01000001111101000001010000010000010110001000110', // frame: CONF; bits: own count
    );
    expect(stuffedBits(0x7ef, FLAG.remote, hex(''), 0, 2).join('')).toBe(
      '01111101011111000001101100011101111100', // frame: CONF; bits: own count
    );
  });
});

const RECORDED = resolve('../shared/data/tractor/crc15-frames.csv');
if (!existsSync(RECORDED) && process.env.CI) throw new Error(`${RECORDED} is missing`);

describe.skipIf(!existsSync(RECORDED))('CRC-15 recorded on the wire', () => {
  test('every frame of the published oscilloscope decode carries the CRC-15 computed here', () => {
    // github.com/TractorHacking/CAN-data, oscilloscope decode of one tractor's bus (MIT licence)
    const rows = readFileSync(RECORDED, 'utf8').trim().split('\n').slice(1);
    const wrong = rows.filter((row) => {
      const [id = '', data = '', crc15 = ''] = row.trim().split(',');
      const payload = hex(data);
      const computed = frameCrc15(Number.parseInt(id, 16), EXT, payload, 0, payload.length);
      return computed !== Number.parseInt(crc15, 16);
    });
    expect(rows.length).toBeGreaterThan(1300);
    expect(wrong).toEqual([]);
  });
});
