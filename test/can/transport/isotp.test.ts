import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { flowControl, IsoTpReceiver, separationSeconds } from '../../../src/can/transport/isotp.ts';
import {
  flowControlFrame,
  type IsoTpSendOptions,
  isoTpFrames,
  separationCode,
} from '../../../src/can/transport/isotpSend.ts';
import { Collector, hex, rising } from './collect.ts';

function receive(frames: readonly (Uint8Array | string)[], typeAt: 0 | 1 = 0, stepS = 0.001): Collector {
  const kept = new Collector();
  const receiver = new IsoTpReceiver(kept, { typeAt });
  frames.forEach((f, i) => {
    const frame = typeof f === 'string' ? hex(f) : f;
    receiver.push(i, i * stepS, frame, 0, frame.length);
  });
  receiver.end();
  return kept;
}

describe('what is sent in frames is received whole', () => {
  test('for any message, frame length, address byte and padding', () => {
    fc.assert(
      fc.property(
        fc.uint8Array({ minLength: 1, maxLength: 700 }),
        fc.constantFrom(8, 12, 16, 20, 24, 32, 48, 64),
        fc.option(fc.nat(255), { nil: undefined }),
        fc.constantFrom(null, 0, 0xaa, 0xcc),
        (message, frameLength, address, padding) => {
          const options: IsoTpSendOptions = {
            frameLength,
            padding,
            ...(address === undefined ? {} : { address }),
          };
          const frames = isoTpFrames(message, options);
          const kept = receive(frames, address === undefined ? 0 : 1);
          expect(kept.faults).toEqual([]);
          expect(kept.transfers).toEqual([
            { first: 0, last: frames.length - 1, frames: frames.length, bytes: [...message] },
          ]);
          expect(frames.every((f) => f.length <= frameLength)).toBe(true);
        },
      ),
      { numRuns: 400 },
    );
  });

  test.each([4095, 4096, 10_000])('a message of %i bytes, on either side of the escape length', (size) => {
    const message = Uint8Array.from({ length: size }, (_, i) => (i * 7) & 255);
    expect(receive(isoTpFrames(message)).transfers[0]?.bytes).toEqual([...message]);
  });

  test('messages one after another are told apart, also where a frame of one is lost', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 8, max: 120 }), { minLength: 2, maxLength: 6 }),
        fc.nat(),
        fc.nat(),
        (sizes, which, place) => {
          const messages = sizes.map((size, k) => Uint8Array.from({ length: size }, (_, i) => i ^ k));
          const hurt = which % messages.length;
          const frames = messages.flatMap((m, k) => {
            const own = isoTpFrames(m);
            if (k === hurt) own.splice(place % own.length, 1);
            return own;
          });
          const kept = receive(frames);
          expect(kept.transfers.map((t) => t.bytes)).toEqual(
            messages.filter((_, k) => k !== hurt).map((m) => [...m]),
          );
          expect(kept.faults).toHaveLength(1);
        },
      ),
    );
  });

  test('a message that no frame can carry is refused', () => {
    expect(() => isoTpFrames(new Uint8Array(0))).toThrow(/1 to 4,294,967,295/);
    expect(() => isoTpFrames(rising(3), { frameLength: 10 })).toThrow(/8, 12, 16/);
  });
});

describe('broken transfers are reported with reason and place', () => {
  const [start, ...parts] = isoTpFrames(rising(30)) as [Uint8Array, ...Uint8Array[]];

  test('a lost part', () => {
    const kept = receive([start, parts[0]!, parts[2]!, parts[3]!]);
    expect(kept.transfers).toEqual([]);
    expect(kept.faults).toMatchObject([{ reason: 'wrongNumber', frame: 2, first: 0, received: 13 }]);
    expect(kept.faults[0]?.words).toContain('part 3 came where part 2 was due');
  });

  test('a repeated part', () => {
    expect(receive([start, parts[0]!, parts[0]!]).reasons).toEqual(['wrongNumber']);
  });

  test('parts before any start, told once', () => {
    expect(receive([parts[0]!, parts[1]!, parts[2]!]).faults).toMatchObject([
      { reason: 'noStart', frame: 0 },
    ]);
  });

  test('a start or a single frame in the middle ends the old transfer and counts itself', () => {
    const kept = receive([start, parts[0]!, '02 3E 00 CC CC CC CC CC', start, ...parts]);
    expect(kept.faults).toMatchObject([{ reason: 'interrupted', frame: 2, first: 0, received: 13 }]);
    expect(kept.transfers.map((t) => [t.first, t.last, t.frames])).toEqual([
      [2, 2, 1],
      [3, 7, 5],
    ]);
  });

  test('the end of the recording', () => {
    const kept = receive([start, parts[0]!]);
    expect(kept.faults).toMatchObject([{ reason: 'unfinished', frame: -1, received: 13 }]);
    expect(kept.faults[0]?.words).toContain('13 of 30 bytes');
  });

  test('a part that comes too late', () => {
    expect(receive([start, ...parts], 0, 0.9).reasons).toEqual([]);
    const kept = receive([start, ...parts], 0, 1.2);
    expect(kept.faults).toMatchObject([{ reason: 'timeout', frame: 1 }]);
    expect(kept.transfers).toEqual([]);
  });

  test.each([
    ['a frame without a payload', '', 'short'],
    ['a single frame that says it is longer than it is', '07 01 02', 'short'],
    ['a single frame that says it is one byte longer than it is', '03 01 02', 'short'],
    ['a single frame of 0 bytes', '00 01 02 03 04 05 06 07', 'badLength'],
    [
      'an escape length in a long frame beside a short one',
      '03 01 02 03 04 05 06 07 08 09 0A 0B',
      'badLength',
    ],
    ['a first frame of what fits a single one', '10 07 01 02 03 04 05 06', 'badLength'],
    ['a first frame that is not full', '10 14 01 02 03', 'short'],
    ['an escape length that is not needed', '10 00 00 00 0F FF 01 02', 'badLength'],
    ['a frame type without a meaning', '55 01 02 03 04 05 06 07', 'reserved'],
  ])('%s', (_, text, reason) => {
    expect(receive([text]).reasons).toEqual([reason]);
    expect(receive([text, ...parts]).transfers).toEqual([]);
  });

  test('a part that is shorter than the ones before it', () => {
    expect(receive([start, parts[0]!.subarray(0, 7)]).reasons).toEqual(['short']);
    // 30 bytes: 6 in the first frame, 7 in three more, 3 in the last.
    expect(receive([start, ...parts.slice(0, -1), parts.at(-1)!.subarray(0, 4)]).transfers).toHaveLength(1);
    expect(receive([start, ...parts.slice(0, -1), parts.at(-1)!.subarray(0, 3)]).reasons).toEqual(['short']);
  });

  test('an announced length of 4 GiB takes no memory before its bytes come', () => {
    const before = process.memoryUsage().arrayBuffers;
    const kept = receive(Array.from({ length: 20_000 }, () => '10 00 FF FF FF FF 01 02'));
    expect(kept.reasons).toContain('interrupted');
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(50_000_000);
  });

  test('no frames whatever make it fail, and nothing comes out that was not sent in order', () => {
    fc.assert(
      fc.property(
        fc.array(fc.uint8Array({ maxLength: 64 }), { maxLength: 60 }),
        fc.constantFrom(0, 1),
        (f, at) => {
          const kept = receive(f, at as 0 | 1);
          const sent = f.reduce((sum, one) => sum + one.length, 0);
          expect(kept.transfers.reduce((sum, t) => sum + t.bytes.length, 0)).toBeLessThanOrEqual(sent);
        },
      ),
    );
  });
});

describe('flow control', () => {
  const message = rising(60);
  const frames = isoTpFrames(message);

  function exchange(flow: string, gapS: number, block: number): Collector {
    const kept = new Collector();
    const receiver = new IsoTpReceiver(kept, { typeAt: 0 });
    let t = 0;
    frames.forEach((f, i) => {
      receiver.push(i, t, f, 0, 8);
      if (i % block === 0 && i < frames.length - 1) {
        const bytes = hex(flow);
        receiver.flow(100 + i, t + 0.0001, flowControl(bytes, 0, bytes.length, 0)!);
      }
      t += gapS;
    });
    receiver.end();
    return kept;
  }

  test('is read and written', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('continue' as const, 'wait' as const, 'overflow' as const),
        fc.nat(255),
        fc.constantFrom(0, 0.0001, 0.0005, 0.0009, 0.001, 0.02, 0.127),
        fc.option(fc.nat(255), { nil: undefined }),
        (state, blockSize, separationS, address) => {
          const options = address === undefined ? {} : { address };
          const bytes = flowControlFrame({ state, blockSize, separationS }, options);
          const read = flowControl(bytes, 0, bytes.length, address === undefined ? 0 : 1);
          expect(read).toMatchObject({ state, blockSize, separationS });
        },
      ),
    );
    expect([separationCode(0.00015), separationCode(0.0012), separationCode(9)]).toEqual([0xf2, 2, 0x7f]);
    expect(separationSeconds(0xfa)).toBe(0.127);
    expect(flowControl(hex('02 3E 00'), 0, 3, 0)).toBeNull();
    expect(flowControl(hex('30 00'), 0, 2, 0)).toBeNull();
  });

  test('kept to by the sender, nothing is said', () => {
    expect(exchange('30 02 01', 0.001, 2).faults).toEqual([]);
    expect(exchange('30 02 01', 0.001, 2).transfers[0]?.bytes).toEqual([...message]);
  });

  test('more parts than the receiver asked for are reported, the transfer counts', () => {
    const kept = exchange('30 02 00', 0.001, 4);
    expect(kept.reasons).toEqual(['noFlow', 'noFlow']);
    expect(kept.faults[0]?.frame).toBe(3);
    expect(kept.transfers).toHaveLength(1);
  });

  test('parts that come sooner than asked for are reported once, with the least time', () => {
    const kept = exchange('30 00 0A', 0.004, 99);
    expect(kept.reasons).toEqual(['tooSoon']);
    expect(kept.faults[0]?.words).toContain('4.00 ms apart; the receiver asked for at least 10.00 ms');
    expect(kept.transfers).toHaveLength(1);
  });

  test('a receiver without room ends the transfer', () => {
    const kept = exchange('32 00 00', 0.001, 99);
    expect(kept.reasons).toEqual(['overflow']);
    expect(kept.transfers).toEqual([]);
  });

  test('a receiver that asks to wait gets more time', () => {
    const kept = new Collector();
    const receiver = new IsoTpReceiver(kept, { typeAt: 0 });
    const wait = flowControl(hex('31 00 00'), 0, 3, 0)!;
    const go = flowControl(hex('30 00 00'), 0, 3, 0)!;
    receiver.push(0, 0, frames[0]!, 0, 8);
    receiver.flow(1, 0.9, wait);
    receiver.flow(2, 1.8, go);
    frames.slice(1).forEach((f, i) => {
      receiver.push(3 + i, 1.9 + i / 1000, f, 0, 8);
    });
    expect(kept.faults).toEqual([]);
    expect(kept.transfers).toHaveLength(1);
  });

  test('that no transfer waits for is reported', () => {
    const kept = new Collector();
    new IsoTpReceiver(kept, { typeAt: 0 }).flow(7, 0, flowControl(hex('30 00 00'), 0, 3, 0)!);
    expect(kept.faults).toMatchObject([{ reason: 'strayFlow', frame: 7 }]);
  });
});
