import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { flowControlFrame, isoTpFrames } from '../../src/can/transport/isotpSend.ts';
import {
  type Conversations,
  conversationsOf,
  type IsoTpPair,
  OUTCOMES,
  TRANSFER_KINDS,
} from '../../src/capture/conversations.ts';
import { hex, rising } from '../can/transport/collect.ts';
import { captureOf, type Frame, frame, framesArbitrary } from './frames.ts';

const MS = 1_000_000;

/** A tape on which frames are written one after another. */
class Tape {
  readonly frames: Frame[] = [];
  ms = 0;

  send(
    id: number,
    data: Uint8Array | string,
    options: { afterMs?: number; bus?: number; flags?: number } = {},
  ): this {
    this.ms += options.afterMs ?? 1;
    const bytes = typeof data === 'string' ? hex(data) : data;
    const { bus = 0, flags = id > 0x7ff ? FLAG.extended : 0 } = options;
    this.frames.push(frame(Math.round(this.ms * MS), id, [...bytes], { bus, flags }));
    return this;
  }

  /** A message from `from`, flow control from `to` after its first frame. */
  say(from: number, to: number, message: Uint8Array | string, address?: { of: number; back: number }): this {
    const bytes = typeof message === 'string' ? hex(message) : message;
    const frames = isoTpFrames(bytes, address ? { address: address.of } : {});
    frames.forEach((f, k) => {
      this.send(from, f);
      if (k === 0 && frames.length > 1) {
        const back = address ? { address: address.back } : {};
        this.send(to, flowControlFrame({ state: 'continue', blockSize: 0, separationS: 0 }, back));
      }
    });
    return this;
  }

  heard(pairs: IsoTpPair[] = []): Conversations {
    return conversationsOf(captureOf(this.frames), { pairs });
  }
}

const payloads = ({ transfers }: Conversations) =>
  Array.from({ length: transfers.count }, (_, k) =>
    Buffer.from(transfers.bytes.subarray(transfers.offset[k], transfers.offset[k]! + transfers.length[k]!))
      .toString('hex')
      .toUpperCase(),
  );

const outcomes = ({ exchanges }: Conversations) =>
  Array.from(exchanges.outcome, (code, k) => [exchanges.service[k], OUTCOMES[code]]);

describe('requests find their answers', () => {
  test('a positive answer of several frames, with its delay from the end of one to the start of the other', () => {
    const tape = new Tape().say(0x7e0, 0x7e8, '22 F1 90').say(0x7e8, 0x7e0, `62 F1 90 ${'41'.repeat(17)}`);
    const heard = tape.heard();
    expect(payloads(heard)).toEqual(['22F190', `62F190${'41'.repeat(17)}`]);
    expect(outcomes(heard)).toEqual([[0x22, 'answered']]);
    expect(heard.exchanges.delayS[0]).toBeCloseTo(0.001, 9);
    expect(heard.faults).toEqual([]);
  });

  test('a refusal carries its code; answers that are pending are counted', () => {
    const heard = new Tape()
      .say(0x7e0, 0x7e8, '31 01 FF 00')
      .say(0x7e8, 0x7e0, '7F 31 78')
      .send(0x7e8, '03 7F 31 78 CC CC CC CC', { afterMs: 4000 })
      .send(0x7e8, '03 7F 31 22 CC CC CC CC', { afterMs: 4000 })
      .heard();
    expect(outcomes(heard)).toEqual([[0x31, 'refused']]);
    expect([heard.exchanges.refusal[0], heard.exchanges.pendings[0]]).toEqual([0x22, 2]);
  });

  test('silence, wanted silence, an answer nobody asked for, and an answer too late', () => {
    const heard = new Tape()
      .say(0x7e1, 0x7e9, '10 03')
      .say(0x7e1, 0x7e9, '3E 80')
      .say(0x7ea, 0x7e2, '50 03 00 32 01 F4')
      .send(0x7e9, '02 50 03 CC CC CC CC CC', { afterMs: 6000 })
      .heard();
    expect(outcomes(heard)).toEqual([
      [0x10, 'silent'],
      [0x3e, 'quiet'],
      [0x10, 'unasked'],
      [0x10, 'unasked'],
    ]);
  });

  test('a request to all units has one row for each unit that answers', () => {
    const heard = new Tape()
      .say(0x7df, 0, '01 0D')
      .say(0x7e8, 0x7e0, '41 0D 3C')
      .say(0x7e9, 0x7e1, '41 0D 3B')
      .heard();
    expect(outcomes(heard)).toEqual([
      [1, 'answered'],
      [1, 'answered'],
    ]);
    expect([...heard.exchanges.request]).toEqual([0, 0]);
    expect([...heard.exchanges.answer]).toEqual([1, 2]);
  });

  test('29-bit identifiers, two units at once, on two buses', () => {
    const tape = new Tape();
    const one = isoTpFrames(rising(30).map((b, i) => (i === 0 ? 0x62 : b)));
    const two = isoTpFrames(rising(25).map((b, i) => (i === 0 ? 0x59 : b)));
    tape
      .send(0x18da10f1, isoTpFrames(hex('22 F1 90'))[0]!)
      .send(0x18da11f1, isoTpFrames(hex('19 02 FF'))[0]!);
    for (let k = 0; k < one.length; k++) {
      tape.send(0x18daf110, one[k]!);
      if (two[k]) tape.send(0x18daf111, two[k]!);
      tape.send(0x18daf110, one[k]!, { bus: 1 });
    }
    const heard = tape.heard();
    expect(heard.faults).toEqual([]);
    expect(outcomes(heard)).toEqual([
      [0x22, 'answered'],
      [0x19, 'answered'],
      [0x22, 'unasked'],
    ]);
    expect([...heard.transfers.bus]).toEqual([0, 0, 0, 0, 1]);
  });
});

describe('which identifiers carry conversations', () => {
  test('other base identifiers from 700 on count where a request meets its answer', () => {
    const tape = new Tape();
    for (let k = 0; k < 20; k++)
      tape.send(0x740, Uint8Array.of(k, k * 7, 3, 4, 5, 6, 7, 8)).send(0x7b0, rising(8));
    tape.say(0x714, 0x77e, '22 F1 90').say(0x77e, 0x714, `62 F1 90 ${'42'.repeat(20)}`);
    const heard = tape.heard();
    expect(heard.carriers.map((c) => c.idKey)).toEqual([0x714, 0x77e]);
    expect(outcomes(heard)).toEqual([[0x22, 'answered']]);
    expect(heard.faults).toEqual([]);
  });

  test('identifiers below 700 count where they are named as a pair', () => {
    const tape = new Tape().say(0x614, 0x654, '21 01').say(0x654, 0x614, `61 01 ${'00'.repeat(12)}`);
    expect(tape.heard().transfers.count).toBe(0);
    const heard = tape.heard([{ request: 0x614, answer: 0x654, typeAt: 0 }]);
    expect(heard.transfers.count).toBe(2);
    expect(heard.faults).toEqual([]);
  });

  test('with extended addressing each target byte is a conversation of its own', () => {
    const pairs: IsoTpPair[] = [
      { request: 0x6f1, answer: 0x612, typeAt: 1 },
      { request: 0x6f1, answer: 0x640, typeAt: 1 },
    ];
    const a = isoTpFrames(
      rising(20).map((b, i) => (i === 0 ? 0x2e : b)),
      { address: 0x12 },
    );
    const b = isoTpFrames(
      rising(20).map((x, i) => (i === 0 ? 0x31 : x)),
      { address: 0x40 },
    );
    const tape = new Tape();
    a.forEach((f, k) => {
      tape.send(0x6f1, f).send(0x6f1, b[k]!);
    });
    const heard = tape.heard(pairs);
    expect(heard.faults).toEqual([]);
    expect([...heard.transfers.address]).toEqual([0x12, 0x40]);
    // The first of two answering units sends several frames: flow control with its address byte is meant for it.
    const said = new Tape()
      .say(0x6f1, 0x612, '22 F1 90', { of: 0x12, back: 0xf1 })
      .say(0x612, 0x6f1, `62 F1 90 ${'31'.repeat(9)}`, { of: 0xf1, back: 0x12 })
      .heard(pairs);
    expect(said.faults).toEqual([]);
    expect(outcomes(said)).toEqual([[0x22, 'answered']]);
  });

  test('mixed addressing with 29 bits keeps its address byte', () => {
    const heard = new Tape()
      .say(0x18ce10f1, 0x18cef110, '22 F1 90', { of: 0x55, back: 0x55 })
      .say(0x18cef110, 0x18ce10f1, '62 F1 90 01 02 03 04 05 06', { of: 0x55, back: 0x55 })
      .heard();
    expect([...heard.transfers.address]).toEqual([0x55, 0x55]);
    expect(outcomes(heard)).toEqual([[0x22, 'answered']]);
    expect(heard.faults).toEqual([]);
  });

  test('J1939 transfers to all and to one unit, with their groups', () => {
    const heard = new Tape()
      .send(0x1cecff00, '20 0A 00 02 FF CA FE 00')
      .send(0x1cebff00, '01 00 01 02 03 04 05 06')
      .send(0x1cec2700, '10 09 00 02 FF DA FE 00')
      .send(0x1cec0027, '11 02 01 FF FF DA FE 00')
      .send(0x1cebff00, '02 07 08 09 FF FF FF FF')
      .send(0x1ceb2700, '01 10 11 12 13 14 15 16')
      .send(0x1ceb2700, '02 17 18 FF FF FF FF FF')
      .send(0x1cec0027, '13 09 00 02 FF DA FE 00')
      .heard();
    expect(heard.faults).toEqual([]);
    expect(Array.from(heard.transfers.kind, (k) => TRANSFER_KINDS[k])).toEqual(['broadcast', 'toUnit']);
    expect([...heard.transfers.group]).toEqual([0xfeca, 0xfeda]);
    expect(payloads(heard)).toEqual(['00010203040506070809', '101112131415161718']);
  });

  test('both sides of a J1939 transfer may give it up', () => {
    const open = () =>
      new Tape().send(0x1cec2700, '10 14 00 03 FF DA FE 00').send(0x1ceb2700, '01 10 11 12 13 14 15 16');
    for (const from of [0x1cec2700, 0x1cec0027]) {
      const heard = open().send(from, 'FF 03 FF FF FF DA FE 00').heard();
      expect(heard.faults).toMatchObject([{ reason: 'aborted', found: 3, frame: 2, first: 0 }]);
      expect(heard.transfers.count).toBe(0);
    }
  });

  test('two pages sent in turn are not taken for fast packets, as their sequence number stands still', () => {
    const tape = new Tape();
    for (let k = 0; k < 100; k++) {
      tape
        .send(0x09f11203, Uint8Array.of(0, 10, k, 1, 2, 3, 4, 5))
        .send(0x09f11203, Uint8Array.of(1, k, 1, 2, 3, 4, 5, 6));
    }
    expect(tape.heard().transfers.count).toBe(0);
  });

  test('a group whose first byte only counts up is not taken for fast packets', () => {
    const tape = new Tape();
    for (let k = 0; k < 250; k++) tape.send(0x09f11203, Uint8Array.of(k, 10 + (k % 9), 1, 2, 3, 4, 5, 6));
    const heard = tape.heard();
    expect([heard.transfers.count, heard.faultCount]).toEqual([0, 0]);
  });
});

test('faults say what happened and at which frame of the recording', () => {
  const tape = new Tape().say(0x7e0, 0x7e8, '22 F1 90').say(0x7e8, 0x7e0, `62 F1 90 ${'41'.repeat(17)}`);
  const without = tape.frames.filter((_, i) => i !== 3);
  const heard = conversationsOf(captureOf(without));
  expect(heard.faults).toMatchObject([
    { reason: 'wrongNumber', frame: 3, first: 1, found: 2, due: 1, idKey: 0x7e8 },
  ]);
  expect(outcomes(heard)).toEqual([[0x22, 'silent']]);
});

test('any recording is heard without failing, and transfers stay inside it', () => {
  fc.assert(
    fc.property(framesArbitrary('many'), fc.boolean(), (frames, steer) => {
      const ids = [0x7e0, 0x7e8, 0x18daf110, 0x1cecff00, 0x1cebff00, 0x1cc80027, 0x1cc70027, 0x09f80103];
      const list = frames.map((f, k) => (steer ? { ...f, id: ids[k % ids.length]!, flags: f.flags | 1 } : f));
      const { transfers, exchanges } = conversationsOf(captureOf(list));
      for (let k = 0; k < transfers.count; k++) {
        expect(transfers.firstFrame[k]).toBeLessThanOrEqual(transfers.lastFrame[k]!);
        expect(transfers.lastFrame[k]).toBeLessThan(list.length);
      }
      expect(exchanges.request.every((k) => k < transfers.count)).toBe(true);
    }),
    { numRuns: 300 },
  );
});

test('work can be stopped', () => {
  const stop = AbortSignal.abort(new Error('stopped'));
  expect(() => conversationsOf(captureOf([frame(0, 1, [])]), { signal: stop })).toThrow('stopped');
});
