import { expect, test } from 'vitest';
import { assembleGateway } from '../../src/bridge/assemble.ts';
import { through } from '../../src/bridge/through.ts';
import { readRaw } from '../../src/can/bits.ts';
import { FLAG } from '../../src/can/frame.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { modeNumber } from '../../src/guard/inputs.ts';
import { dictionaries, frameOf, guardPlan, messageOf, parts } from './fixture.ts';

const gateway = assembleGateway({
  ...parts(),
  guards: [bindGuard(guardPlan(), dictionaries(), 10).stage],
});

/** Three seconds of the van at 36 km/h, wheel straight, controller asking for straight on. */
function recording(seconds = 3): Capture {
  const builder = new CaptureBuilder();
  builder.originNs = 5_000_000_000n;
  const put = (
    t: number,
    bus: number,
    m: ReturnType<typeof messageOf>,
    raw: Record<string, number>,
    counter: number,
  ) => {
    const payload = frameOf(m, raw, counter);
    builder.add(t, bus, m.id, m.extended ? FLAG.extended : 0, payload.length, payload, 0, payload.length);
  };
  const [speed, angle] = [messageOf('van', 'Speed'), messageOf('van', 'Wheel angle (Dunlin)')];
  const [torque, command] = [messageOf('plover', 'Torque'), messageOf('control', 'Command')];
  for (let k = 0; k < seconds * 100; k++) {
    const t = 100 + k / 100 + 0.002;
    put(t, 0, speed, { Speed: 3600 }, k % 15);
    put(t + 0.001, 0, angle, {}, k % 16);
    if (k % 2 === 0) put(t + 0.002, 1, torque, { 'Driver torque': 2048 }, (k / 2) % 4);
    put(t + 0.003, 2, command, { Request: 1 }, k % 16);
  }
  return builder.finish();
}

test('a capture played through the gateway gives what it sends, stamped with its steps and marked as sent', () => {
  const sent = through(gateway, recording());
  const speed = messageOf('plover', 'Van speed');
  const found = [...sent.id.keys()].filter((i) => sent.id[i] === speed.id);
  // Every 20 ms for 3 s; the first step comes 10 ms after the first frame.
  expect(found.length).toBe(150);
  expect(sent.time[found[0] as number]).toBeCloseTo(100.012, 9);
  expect((sent.time[found[1] as number] as number) - (sent.time[found[0] as number] as number)).toBeCloseTo(
    0.02,
    9,
  );
  for (const i of found) {
    expect(sent.flags[i]).toBe(FLAG.sent);
    expect(sent.bus[i]).toBe(1);
    expect(readRaw(sent.payload, sent.offset[i] as number, speed.signals[0]!)).toBe(576);
  }
  expect(sent.originNs).toBe(5_000_000_000n);
});

test('a cue that presses the button arms the guard, one on the stop input trips it', () => {
  const at = gateway.stages.findIndex((s) => s.role === 'guard');
  const mode = gateway.stages[at]!.program.outputs.findIndex((o) => o.name === 'mode');
  const modes = new Map<number, number>();
  through(gateway, recording(), {
    pins: [
      { pin: 'hand over', startS: 101, endS: 101.2 },
      { pin: 'stop', startS: 102, endS: 102.05 },
      { pin: 'hand over', startS: 102.9, endS: 103 },
    ],
    watch: (t, run) => modes.set(Math.round((t - 100.002) * 100), run.outputs(at)[mode] as number),
  });
  // The last press acknowledges, which shows that stop and button were let go when their cues ended.
  expect([90, 150, 195, 210, 299].map((k) => modes.get(k))).toEqual(
    (['ready', 'armed', 'armed', 'tripped', 'idle'] as const).map(modeNumber),
  );
});

test('an empty capture gives an empty one, and time stamps that go back do no harm', () => {
  expect(through(gateway, new CaptureBuilder().finish()).count).toBe(0);
  const back = recording();
  back.time.set([50, 20], 100);
  expect(through(gateway, back).count).toBeGreaterThan(100);
});

test('a capture that claims years and a pin that is not there are refused in one sentence', () => {
  const long = recording();
  long.time[3] = 1e9;
  expect(() => through(gateway, long)).toThrow('at most 86400 s can be played through the gateway');
  expect(() => through(gateway, recording(), { pins: [{ pin: 'horn', startS: 0, endS: 1 }] })).toThrow(
    'pin "horn" is not one of the gateway\'s; it has hand over, stop',
  );
});

test('playing stops when it is told to, and tells how far it is', () => {
  const stop = new AbortController();
  const seen: number[] = [];
  through(gateway, recording(), { progress: (share) => seen.push(share) });
  expect(seen.at(-1)).toBe(1);
  stop.abort();
  expect(() => through(gateway, recording(60), { signal: stop.signal })).toThrow();
});
