import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { j1939Id } from '../../../src/can/j1939.ts';
import { conversationsOf } from '../../../src/capture/conversations.ts';
import { captureOf, type Frame, frame, framesArbitrary } from '../frames.ts';

const ALL = 255;

function sent(
  ms: number,
  group: number,
  source: number,
  destination: number,
  data: number[],
  bus = 0,
): Frame {
  const id = j1939Id({ priority: 6, parameterGroup: group, source, destination });
  return frame(Math.round(ms * 1e6), id, data, { bus, flags: FLAG.extended });
}

const three = (group: number) => [group & 255, (group >> 8) & 255, group >> 16];
const request = (ms: number, from: number, to: number, group: number, bus = 0) =>
  sent(ms, 59904, from, to, three(group), bus);
const acknowledge = (ms: number, from: number, control: number, asker: number, group: number) =>
  sent(ms, 59392, from, ALL, [control, 255, 255, 255, asker, ...three(group)]);
const eight = [1, 2, 3, 4, 5, 6, 7, 8];
/** Nothing of interest, late enough that no answer can come any more. */
const late = (ms: number) => sent(ms, 65262, 99, ALL, eight);

function told(frames: readonly Frame[]) {
  return conversationsOf(captureOf(frames)).groupRequests.map(
    ({ group, from, to, outcome, by, delayS, alsoUnasked }) =>
      `${from}>${to} ${group} ${outcome}${by < 0 ? '' : ` by ${by} after ${(delayS * 1000).toFixed(0)} ms`}${alsoUnasked ? ', unasked too' : ''}`,
  );
}

describe('a request for a parameter group', () => {
  test('is answered by the group of the unit asked, and of no other', () => {
    const frames = [
      request(0, 249, 0, 65260),
      sent(3, 65260, 7, ALL, eight),
      sent(12, 65260, 0, ALL, eight),
      late(2000),
    ];
    expect(told(frames)).toEqual(['249>0 65260 answered by 0 after 12 ms']);
  });

  test('that goes to all has one entry for each unit that answers, the asker not among them', () => {
    const frames = [
      request(0, 249, ALL, 60928),
      sent(1, 60928, 249, ALL, eight),
      sent(20, 60928, 3, ALL, eight),
      sent(30, 60928, 4, ALL, eight),
      sent(40, 60928, 3, ALL, eight),
      late(2000),
    ];
    expect(told(frames)).toEqual([
      '249>255 60928 answered by 3 after 20 ms',
      '249>255 60928 answered by 4 after 30 ms',
    ]);
  });

  test('is answered in several frames: the delay goes to the first of them', () => {
    const frames = [
      request(0, 249, 0, 65260),
      sent(50, 60416, 0, ALL, [32, 10, 0, 2, 255, ...three(65260)]),
      sent(100, 60160, 0, ALL, [1, 10, 11, 12, 13, 14, 15, 16]),
      sent(150, 60160, 0, ALL, [2, 17, 18, 19, 255, 255, 255, 255]),
      late(2000),
    ];
    const { groupRequests, transfers } = conversationsOf(captureOf(frames));
    expect(groupRequests).toMatchObject([{ outcome: 'answered', by: 0, answer: 1, transfer: 0 }]);
    expect(groupRequests[0]?.delayS).toBeCloseTo(0.05, 9);
    expect([...transfers.bytes]).toEqual([10, 11, 12, 13, 14, 15, 16, 17, 18, 19]);
  });

  test.each([
    [0, 'acknowledged'],
    [1, 'refused'],
    [2, 'denied'],
    [3, 'busy'],
  ])('acknowledgement %i says that it was %s, to the asker that it names', (control, outcome) => {
    const frames = [
      request(0, 249, 0, 65227),
      request(1, 33, 0, 65227),
      acknowledge(5, 0, control, 249, 65227),
      late(2000),
    ];
    expect(told(frames)).toEqual([`249>0 65227 ${outcome} by 0 after 5 ms`, '33>0 65227 silent']);
  });

  test('without an answer in time is silent, and cut off where the recording ends before that', () => {
    const frames = [
      request(0, 249, 0, 65260),
      sent(1251, 65260, 0, ALL, eight),
      request(3000, 249, 1, 65260),
      request(3100, 249, 2, 65260),
      request(3200, 249, 2, 65260),
      late(3500),
    ];
    expect(told(frames)).toEqual([
      '249>0 65260 silent',
      '249>1 65260 cutOff',
      '249>2 65260 silent',
      '249>2 65260 cutOff',
    ]);
  });

  test('for what is sent anyway says so', () => {
    const steady = Array.from({ length: 30 }, (_, n) => sent(100 * n + 50, 65253, 0, ALL, eight));
    expect(told([request(0, 249, 0, 65253), ...steady])).toEqual([
      '249>0 65253 answered by 0 after 50 ms, unasked too',
    ]);
  });

  test('is met on its own bus only; what is no request is none', () => {
    const frames = [
      request(0, 249, 0, 65260),
      sent(10, 65260, 0, ALL, eight, 1),
      sent(20, 59904, 249, 0, [1, 2]),
      sent(30, 59904, 249, 0, [0xec, 0xfe, 0x04]),
      sent(40, 59904, 249, 0, [0x12, 0x00, 0x00]),
      sent(50, 59904, 249, 0, [0xec, 0xfe, 0x00, 1, 2, 3, 4, 5]),
      late(2000),
    ];
    expect(told(frames)).toEqual(['249>0 65260 silent']);
  });

  test('random traffic on the identifiers of requests gives frames and times of the recording', () => {
    const groups = fc.constantFrom(59904, 59392, 60928, 65260, 60416, 60160);
    const any = fc.record({
      ms: fc.integer({ min: 0, max: 5000 }),
      group: groups,
      source: fc.integer({ min: 0, max: 3 }),
      destination: fc.constantFrom(0, 1, 2, ALL),
      data: fc.oneof(groups.map(three), fc.array(fc.integer({ min: 0, max: 255 }), { maxLength: 8 })),
    });
    fc.assert(
      fc.property(fc.array(any, { maxLength: 60 }), (all) => {
        const capture = captureOf(
          all.map(({ ms, group, source, destination, data }) => sent(ms, group, source, destination, data)),
        );
        const { groupRequests } = conversationsOf(capture);
        for (const row of groupRequests) {
          expect(row.frame).toBeLessThan(capture.count);
          expect(row.answer < 0).toBe(row.by < 0);
          if (row.answer < 0) continue;
          expect(row.answer).toBeGreaterThan(row.frame);
          expect(row.delayS).toBeGreaterThanOrEqual(0);
          expect(row.delayS).toBeLessThanOrEqual(1.25);
          expect(row.by).not.toBe(row.from);
          if (row.to !== ALL) expect(row.by).toBe(row.to);
        }
      }),
    );
    fc.assert(fc.property(framesArbitrary('many'), (frames) => void conversationsOf(captureOf(frames))));
  });
});
