import { readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { WAGTAIL } from '../../demo/generator/host.ts';
import { SCENARIOS, truth } from '../../demo/generator/index.ts';
import { BIT_RATE_BPS, BUS_NUMBER, UNITS } from '../../demo/generator/units.ts';
import { through } from '../../src/bridge/through.ts';
import { gatewayOf, pinCuesOf } from '../../src/build/gatewayOf.ts';
import { loadBuild } from '../../src/build/load.ts';
import type { Build } from '../../src/build/model.ts';
import { checkBytesNeeded, checkValue } from '../../src/can/check.ts';
import { readBits } from '../../src/dictionary/bits.ts';
import { decodeSignal, messageFrames } from '../../src/dictionary/decode.ts';
import type { Message } from '../../src/dictionary/model.ts';
import { checkTables } from '../../src/guard/budget/margin.ts';
import { guardPlanProblems } from '../../src/guard/problems/index.ts';
import type { AnglePlan } from '../guard/plan.ts';
import { checkSentence, counterSentence, signalSentence, stillTopBits } from './evidence.ts';
import { recording, trueMessage } from './recording.ts';

const FOLDER = resolve('demo');
const { build: loaded, problems } = await loadBuild(FOLDER);
const build = loaded as Build;

const accepted = build.dictionaries.flatMap(({ bus, messages }) =>
  messages.map((message) => ({ bus, message, name: `${bus}: ${message.name}` })),
);

describe('the demo build', () => {
  test('loads with nothing to mend, and one caution: bends sharper than the budget counts', () => {
    expect(problems.map((p) => [p.weight, p.field])).toEqual([['caution', 'budget.bend_acceleration_mps2']]);
    expect(build.bridge?.routes.length).toBeGreaterThanOrEqual(2);
  });

  test('says in every file that it is invented', () => {
    const files = readdirSync(FOLDER, { recursive: true, encoding: 'utf8' }).filter((f) =>
      // What `run` writes there is a result, not a part of the demo.
      /^(?!out[\\/]).*\.(yaml|md)$/.test(f),
    );
    expect(files.length).toBeGreaterThanOrEqual(11);
    for (const file of files) {
      expect(readFileSync(join(FOLDER, file), 'utf8').split('\n').slice(0, 8).join(' '), file).toMatch(
        /invented/,
      );
    }
  });

  test('has the van, the units and the buses from which its recordings were made', () => {
    expect(build.file.host).toEqual(WAGTAIL);
    expect(build.units.map((unit) => unit.name).sort()).toEqual(
      Object.values(UNITS)
        .map((unit) => unit.name)
        .sort(),
    );
    expect(Object.fromEntries(build.buses.map((bus) => [bus.name, bus.number]))).toEqual(BUS_NUMBER);
    for (const bus of build.buses) expect(bus.bitRateBps).toBe(BIT_RATE_BPS);
    for (const { bus, message } of truth().messages) {
      expect(build.units.find((unit) => unit.name === message.sender)?.buses).toContain(bus);
    }
  });

  test('has cue sheets that tell what happened in the recordings', () => {
    expect(build.cueSheets.length).toBe(SCENARIOS.length);
    for (const { capture, events } of SCENARIOS) {
      const sheet = build.cueSheets.find((s) => s.capture === capture);
      const told = sheet?.cues.map(({ name, startS, endS, level }) => ({ name, startS, endS, level }));
      const happened = events.map(({ name, startS, endS, level }) => ({ name, startS, endS, level }));
      expect(told).toEqual([...happened].sort((a, b) => a.startS - b.startS));
    }
  });
});

describe('the guard', () => {
  test('has tables that keep the budget at every speed of the road, with room to spare', () => {
    const check = checkTables(build.guard!, build.file.host);
    expect(check.missing).toEqual([]);
    expect(check.channels.map((c) => c.channel)).toEqual(['steering', 'braking', 'drive']);
    for (const channel of check.channels) {
      expect(channel.levelOverFromMps, channel.channel).toBeNull();
      expect(channel.slewOverFromMps, channel.channel).toBeNull();
      expect(channel.leastMargin, channel.channel).toBeGreaterThan(0.15);
    }
  });

  test('has nothing wrong in its figures, and says which runaways its budget leaves out', () => {
    const found = guardPlanProblems(build.guard!, build.file.host, build.dictionaries);
    expect(found.map((p) => [p.weight, p.path])).toEqual([['caution', 'budget.bend_acceleration_mps2']]);
    expect(found[0]!.found).toMatch(/a runaway out of those goes further than the budget says/);
  });
});

describe('the dictionaries', () => {
  test('hold between a half and three quarters of the messages, every one a true one', () => {
    const share = accepted.length / truth().messages.length;
    expect(share).toBeGreaterThan(0.5);
    expect(share).toBeLessThan(0.75);
    for (const { bus, message } of accepted) expect(() => trueMessage(bus, message.name)).not.toThrow();
  });

  test.each(accepted)('$name is as it is in truth', ({ bus, message }) => {
    const real = trueMessage(bus, message.name).message;
    const plain = ({ id, extended, length, periodMs, sender }: Message) => ({
      id,
      extended,
      length,
      periodMs,
      sender,
    });
    expect(plain(message)).toEqual(plain(real));
    expect(message.selector).toEqual(real.selector);
    if (message.counter) {
      const { evidence, ...counter } = message.counter;
      expect(counter).toEqual(real.counter);
    } else expect(real.counter).toBeUndefined();
    for (const { evidence, note, ...signal } of message.signals) {
      expect(real.signals).toContainEqual(signal);
    }
  });

  test.each(accepted.filter(({ message }) => message.check))(
    '$name has a check that agrees with the true one on any payload',
    ({ bus, message }) => {
      const real = trueMessage(bus, message.name).message;
      const [mine, theirs] = [message.check!, real.check!];
      expect(mine).toMatchObject({ start: theirs.start, length: theirs.length });
      expect(checkBytesNeeded(mine)).toBeLessThanOrEqual(message.length);
      fc.assert(
        fc.property(fc.uint8Array({ minLength: message.length, maxLength: message.length }), (payload) => {
          const count = message.counter ? readBits(payload, 0, message.counter) : undefined;
          const args = [message.id, payload, 0, message.length, count] as const;
          expect(checkValue(mine, ...args)).toBe(checkValue(theirs, ...args));
        }),
      );
    },
  );

  test.each(accepted)('$name has evidence whose figures can be computed again', ({ bus, message }) => {
    const number = BUS_NUMBER[bus as keyof typeof BUS_NUMBER];
    const capture = recording(bus === 'controller' ? 'bench-1' : 'drive-1');
    const told = (evidence: { text: string }[] | undefined) => evidence?.[0]?.text ?? '';
    if (message.counter) {
      expect(told(message.counter.evidence)).toContain(counterSentence(capture, number, message));
    }
    if (message.check)
      expect(told(message.check.evidence)).toContain(checkSentence(capture, number, message));
    for (const signal of message.signals) {
      expect(told(signal.evidence)).toBe(signalSentence(capture, number, message, signal));
      if (signal.values || signal.length <= 2) continue;
      const still = stillTopBits(capture, number, message, signal);
      const noted = Number(
        /^The top (\d+ )?bits? never moved/.exec(signal.note ?? '')?.[1] ?? (signal.note ? 1 : 0),
      );
      expect(noted, signal.name).toBe(still);
    }
  });
});

describe('the gateway of the demo, fed with bench-1', () => {
  const gateway = gatewayOf(build);
  const bench = recording('bench-1');
  const sent = through(gateway, bench, { pins: pinCuesOf(build, gateway, 'bench-1.pcapng') });
  const read = (bus: string, name: string, signal: string) => {
    const message = build.dictionaries.find((d) => d.bus === bus)!.messages.find((m) => m.name === name)!;
    const frames = messageFrames(sent, BUS_NUMBER[bus as keyof typeof BUS_NUMBER], message);
    return decodeSignal(sent, frames, message, message.signals.find((s) => s.name === signal)!);
  };

  test('the guard arms on each hand-over and gives the wheel back within 0.7 s of each trouble on the cue sheet', () => {
    const active = read('column', 'steering order', 'order active');
    const turns: { t: number; to: number }[] = [];
    for (let i = 1; i < active.value.length; i++) {
      if (active.value[i] !== active.value[i - 1]) turns.push({ t: active.time[i]!, to: active.value[i]! });
    }
    const cues = build.cueSheets.find((s) => s.capture === 'bench-1.pcapng')!.cues;
    const handovers = cues.filter((cue) => /hands over/.test(cue.note ?? '')).map((cue) => cue.startS);
    const troubles = cues
      .filter((cue) => /missing|wrong check|frozen|driver turns|stop button|withdrawn/.test(cue.name))
      .map((cue) => cue.startS);
    const on = turns.filter((turn) => turn.to === 1).map((turn) => turn.t);
    const off = turns.filter((turn) => turn.to === 0).map((turn) => turn.t);
    expect(on.length).toBe(handovers.length);
    expect(off.length).toBe(troubles.length);
    on.forEach((t, i) => {
      expect(t - handovers[i]!).toBeGreaterThan(0);
      expect(t - handovers[i]!).toBeLessThan(0.1);
    });
    off.forEach((t, i) => {
      expect(t - troubles[i]!).toBeGreaterThan(0);
      expect(t - troubles[i]!).toBeLessThan(0.7);
    });
  });

  test('whatever is asked, the order stays within level and slew', () => {
    const order = read('column', 'steering order', 'order angle');
    const { level, slew } = build.guard!.steering as AnglePlan['steering'];
    const highest = Math.max(...level.map((p) => p.angleDeg));
    const fastest = Math.max(...slew.map((p) => p.rateDegPerS));
    const asked = decodeSignal(
      bench,
      messageFrames(bench, 2, trueMessage('controller', 'steering command').message),
      trueMessage('controller', 'steering command').message,
      trueMessage('controller', 'steering command').message.signals[0]!,
    );
    expect(Math.max(...asked.value)).toBeGreaterThan(highest);
    for (let i = 1; i < order.value.length; i++) {
      expect(Math.abs(order.value[i]!)).toBeLessThanOrEqual(highest);
      const starts = order.value[i - 1] === 0;
      const change = Math.abs(order.value[i]! - order.value[i - 1]!);
      if (!starts) expect(change).toBeLessThanOrEqual(Math.max(fastest * 0.02, highest / 20) + 0.051);
    }
    const large = order.value.filter((_, i) => order.time[i]! > 9.2 && order.time[i]! < 10.4);
    const tableAt = (v: number) => {
      const next = level.findIndex((p) => p.speedMps >= v);
      const [a, b] = [level[next - 1]!, level[next]!];
      return a.angleDeg + ((b.angleDeg - a.angleDeg) * (v - a.speedMps)) / (b.speedMps - a.speedMps);
    };
    // The van goes between 11 and 12.5 m/s then.
    expect(Math.max(...large)).toBeLessThan(tableAt(11));
    expect(Math.max(...large)).toBeGreaterThan(tableAt(12.5));
  });

  test('Plover and the controller are told speed and angle as they are', () => {
    const speed = read('column', 'home speed', 'vehicle speed');
    const told = read('controller', 'angle and speed', 'speed');
    expect(speed.value.length).toBeGreaterThan(2900);
    expect(told.value.length).toBeGreaterThan(2900);
    expect(Math.abs(speed.value.at(-1)! - told.value.at(-1)!)).toBeLessThan(0.05);
  });
});
