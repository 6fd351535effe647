import { describe, expect, test } from 'vitest';
import { fieldBits } from '../../src/can/bits.ts';
import { FLAG } from '../../src/can/frame.ts';
import { concatenate, pickFrames } from '../../src/capture/select.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { findAll, findSteps } from '../../src/findings/find.ts';
import type { FoundMessage } from '../../src/findings/model.ts';
import { captureOf, checkField, driving, random, type Sender } from './traffic.ts';

/** Fresh senders each time: how they move goes on from frame to frame. */
const steering = (): Sender => ({
  id: 0x0c4,
  length: 8,
  frames: 400,
  fill: driving(2),
  counter: { start: 48, length: 4, byteOrder: 'little', value: (i) => i % 15 },
  check: checkField({ poly: 0x2f, init: 0xff, xorout: 0xff }),
});
const speed = (): Sender => ({
  id: 0x1a2,
  length: 4,
  frames: 200,
  periodS: 0.02,
  fill: driving(6),
  seed: 2,
});

async function messagesOf(capture: Capture): Promise<FoundMessage[]> {
  return (await findAll(capture)).messages;
}

function only(messages: FoundMessage[]): FoundMessage {
  expect(messages).toHaveLength(1);
  return messages[0] as FoundMessage;
}

describe('a capture of two senders', () => {
  test('gives both messages with timing, and counter and check where they are', async () => {
    const findings = await findAll(captureOf([steering(), speed()]));
    expect(findings.frames).toBe(600);
    expect(findings.seconds).toBeCloseTo(3.99, 1);
    expect(findings.messages.map((m) => m.id)).toEqual([0x0c4, 0x1a2]);
    const [first, second] = findings.messages;
    expect(first).toMatchObject({ frames: 400, length: 8, extended: false, timing: 'periodic' });
    expect(first?.periodMs).toBeCloseTo(10, 1);
    expect(second?.periodMs).toBeCloseTo(20, 1);
    expect(first?.counter).toMatchObject({ start: 48, length: 4, step: 1, skip: [15] });
    expect(first?.check).toMatchObject({ start: 56, poly: 0x2f, standard: 'CRC-8/AUTOSAR' });
    expect(second?.counter).toBeNull();
    expect(second?.check).toBeNull();
  });

  test('cuts what counter and check leave over, and nothing of them', async () => {
    const [message] = await messagesOf(captureOf([steering(), speed()]));
    const bits = message?.signals.flatMap((s) => fieldBits(s)) ?? [];
    expect(new Set(bits).size).toBe(bits.length);
    expect(bits.filter((bit) => bit >= 48 && bit < 52)).toEqual([]);
    expect(bits.filter((bit) => bit >= 56)).toEqual([]);
    expect(bits).toHaveLength(64 - 4 - 8);
  });

  test('keeps the counter whose value picks the constants of a check', async () => {
    const dice = random(12);
    const perCounter = Array.from({ length: 16 }, () => Math.floor(dice() * 256));
    const counter = { start: 48, length: 4, byteOrder: 'little' as const, value: (i: number) => i % 16 };
    const check = checkField({ poly: 0x2f, perCounter });
    const message = only(await messagesOf(captureOf([{ ...steering(), frames: 900, counter, check }])));
    expect(message.check?.perCounter).toHaveLength(16);
    expect(message.counter).toMatchObject({ start: 48, length: 4 });
  });

  test('is looked at on the buses that were asked for only', async () => {
    const capture = captureOf([steering(), { ...speed(), bus: 3 }]);
    const findings = await findAll(capture, { buses: [3] });
    expect(findings.messages.map((m) => [m.bus, m.id])).toEqual([[3, 0x1a2]]);
  });

  test('reports rising progress up to 1 and gives the same whether in steps or at once', async () => {
    const capture = captureOf([steering(), speed()]);
    const shares: number[] = [];
    const findings = await findAll(capture, { onProgress: (share) => shares.push(share) });
    expect(shares.at(-1)).toBe(1);
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
    const steps = findSteps(capture);
    let step = steps.next();
    while (!step.done) step = steps.next();
    expect(step.value).toEqual(findings);
  });

  test('stops with the reason of its signal when it is aborted on the way', async () => {
    const control = new AbortController();
    const done = findAll(captureOf([steering(), speed()]), {
      signal: control.signal,
      onProgress: () => control.abort(new Error('the person went away')),
    });
    await expect(done).rejects.toThrow('the person went away');
  });
});

describe('not enough to tell is said, with the recording that would tell', () => {
  test('of an empty capture: nothing at all', async () => {
    expect(await findAll(new CaptureBuilder().finish())).toMatchObject({
      frames: 0,
      seconds: 0,
      messages: [],
    });
  });

  test('of five frames', async () => {
    const message = only(await messagesOf(captureOf([{ ...steering(), frames: 5 }])));
    expect(message).toMatchObject({ timing: 'tooFew', signals: [], counter: null, check: null });
    expect(message.open.join(' ')).toMatch(/Only 5 frames: not enough to tell .* record for longer/);
  });

  test('of a payload that never changes', async () => {
    const still = { ...speed(), fill: (p: Uint8Array) => p.fill(0x5a) };
    const message = only(await messagesOf(captureOf([still])));
    expect(message).toMatchObject({ counter: null, check: null });
    expect(message.signals).toMatchObject([{ start: 0, length: 32, kind: 'constant' }]);
    expect(message.open.join(' ')).toMatch(/never changed in 200 frames: not enough to tell .* record while/);
  });

  test('of one second', async () => {
    const message = only(await messagesOf(captureOf([{ ...speed(), frames: 50 }])));
    expect(message.open.join(' ')).toMatch(/Recorded for 1\.0 s only: .* record a minute or more/);
  });

  test('of frames without payload', async () => {
    const message = only(await messagesOf(captureOf([{ id: 9, length: 0, frames: 40, fill: () => {} }])));
    expect(message).toMatchObject({ length: 0, signals: [], counter: null, check: null });
    expect(message.open.join(' ')).toContain('no payload');
  });

  test('of an identifier with two lengths: the commoner one is looked at, the other is counted', async () => {
    const both = captureOf([steering(), { ...speed(), id: steering().id, frames: 30 }]);
    const message = only(await messagesOf(both));
    expect(message).toMatchObject({ length: 8, frames: 430 });
    expect(message.check).toMatchObject({ poly: 0x2f });
    expect(message.open.join(' ')).toContain('30 frames of other lengths than 8 bytes were left out');
  });

  test('of a check where hardly more than three payloads were seen', async () => {
    let k = 0;
    const fill = (p: Uint8Array) => {
      k++;
      p.fill(0x11);
      p[2] = k < 60 ? 1 : k < 90 ? 3 : 6;
    };
    const { check } = only(
      await messagesOf(
        captureOf([{ id: 5, length: 8, frames: 120, fill, check: checkField({ poly: 0x2f }) }]),
      ),
    );
    expect(check).toBeNull();
  });
});

describe('a recording that is not what it seems', () => {
  const capture = captureOf([steering(), speed()]);

  test('joined to itself counts once', async () => {
    const once = await messagesOf(capture);
    const twice = await messagesOf(joined(capture, capture));
    expect(twice.map((m) => m.signals)).toEqual(once.map((m) => m.signals));
    expect(twice.map((m) => m.check)).toEqual(once.map((m) => m.check));
    for (const message of twice) expect(message.open.join(' ')).toContain('holds the same frames twice over');
    const apart = await messagesOf(concatenate([capture, capture], 60));
    for (const message of apart) expect(message.open.join(' ')).toContain('holds the same frames twice over');
  });

  test('with every frame doubled counts once', async () => {
    const frames = Uint32Array.from({ length: 2 * capture.count }, (_, k) => k >> 1);
    const doubled = pickFrames(capture, frames);
    const [message] = await messagesOf(doubled);
    expect(message?.counter).toMatchObject({ start: 48, length: 4, step: 1, skip: [15] });
    expect(message?.check?.evidence[0]).toMatchObject({ frames: 400, agree: 400 });
    expect(message?.open.join(' ')).toContain('every frame twice');
  });

  test('whose clock jumps back is not compared across the jump', async () => {
    const other = captureOf([
      { ...steering(), seed: 9, fill: driving(19), frames: 300 },
      { ...speed(), seed: 9, fill: driving(23) },
    ]);
    const [message] = await messagesOf(joined(capture, other));
    expect(message).toMatchObject({ frames: 700, timing: 'periodic' });
    expect(message?.periodMs).toBeCloseTo(10, 1);
    const [evidence] = message?.counter?.evidence ?? [];
    expect(evidence).toMatchObject({ frames: 698, agree: 698 });
    expect(message?.open.join(' ')).toContain('at 1 place; frames were not compared across it');
  });

  test('with a few single stamps gone wrong keeps counter and check', async () => {
    const time = capture.time.slice();
    for (const i of [40, 200, 333]) time[i] = 0;
    const [message] = await messagesOf({ ...capture, time });
    expect(message?.counter).toMatchObject({ start: 48, length: 4 });
    expect(message?.check).toMatchObject({ poly: 0x2f });
  });

  test('with remote frames and error messages in it leaves them out', async () => {
    const builder = new CaptureBuilder();
    const none = new Uint8Array(0);
    for (let i = 0; i < capture.count; i++) {
      const from = capture.offset[i] as number;
      const length = capture.length[i] as number;
      const time = capture.time[i] as number;
      builder.add(time, 0, capture.id[i] as number, 0, length, capture.payload, from, length);
      if (i % 20 === 0) builder.add(time, 0, steering().id, FLAG.remote, 8, none, 0, 0);
      if (i % 50 === 0) builder.add(time, 0, 0, FLAG.error, 0, none, 0, 0);
    }
    const plain = await messagesOf(capture);
    expect(await messagesOf(builder.finish())).toEqual(plain);
  });
});

test('no field of random traffic is stated with more than 0.92, and nothing is a counter or check, over 20 seeds', async () => {
  for (let seed = 1; seed <= 20; seed++) {
    const dice = random(seed);
    const fill = (p: Uint8Array) => {
      for (let b = 0; b < p.length; b++) p[b] = dice() < 0.5 ? 0x20 : Math.floor(dice() * 256);
    };
    const message = only(await messagesOf(captureOf([{ id: 7, length: 4, frames: 60, fill }])));
    expect(message, `seed ${seed}`).toMatchObject({ counter: null, check: null });
    for (const { probability } of message.signals) expect(probability).toBeLessThanOrEqual(0.92);
  }
});

/** Two captures end to end with their own clocks. */
function joined(a: Capture, b: Capture): Capture {
  const whole = concatenate([a, b], 1);
  const time = whole.time.slice();
  time.set(b.time, a.count);
  return { ...whole, time };
}
