import { expect, test } from 'vitest';
import type { BridgePlan } from '../../src/bridge/model.ts';
import type { GatewayParts } from '../../src/bridge/plan.ts';
import { planProblems } from '../../src/bridge/problems.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { dictionaries, guardPlan, parts } from './fixture.ts';

type Changeable = { parts: GatewayParts; plan: BridgePlan };

/** Problems of the plan after a change, as "weight path: found → expected". */
function after(change: (p: Changeable) => void): string[] {
  const p = parts();
  change({ parts: p, plan: p.bridge as BridgePlan });
  return planProblems(p).map((q) => `${q.weight} ${q.file} ${q.path}: ${q.found} → ${q.expected}`);
}

function refused(change: (p: Changeable) => void): string[] {
  return after(change).filter((text) => text.startsWith('refuse'));
}

const message = (p: Changeable, bus: string, name: string) =>
  p.parts.dictionaries.find((d) => d.bus === bus)!.messages.find((m) => m.name === name)!;

test('the plan of the van stands without a refusal', () => {
  expect(refused(() => {})).toEqual([]);
});

test('a route to a bus that is not there is refused, and the buses that are there are named', () => {
  const [text] = refused((p) => {
    p.plan.routes[0]!.to.bus = 'plovr';
  });
  expect(text).toBe(
    'refuse bridge.yaml routes[0].to.bus: bus "plovr" → a bus of buses.yaml: van, plover, control',
  );
});

test('a bus without a dictionary, an unknown message and an unknown signal are refused where they stand', () => {
  const texts = refused((p) => {
    p.parts.buses = [...p.parts.buses, { name: 'spare', number: 3, bitRateBps: 500_000 }];
    p.plan.routes[0]!.to.bus = 'spare';
    p.plan.routes[1]!.signals[0]!.from!.message = 'Velocity';
    p.plan.routes[1]!.signals[1]!.from!.signal = 'angle';
    p.plan.routes[2]!.signals[0]!.to = 'needle';
  });
  expect(texts).toEqual([
    'refuse bridge.yaml routes[0].to.bus: bus "spare" has no dictionary → a file dictionary/spare.yaml with its messages',
    'refuse bridge.yaml routes[1].signals[0].from.message: message "Velocity" → a message of bus van: Speed, Wheel angle (Dunlin), Display',
    'refuse bridge.yaml routes[1].signals[1].from.signal: signal "angle" → a signal of message Wheel angle (Dunlin): Angle, Rate',
    'refuse bridge.yaml routes[2].signals[0].to: signal "needle" → a signal of message Display: int',
  ]);
});

test('a signal that was rejected in the dictionary is not there for a route', () => {
  const texts = refused((p) => {
    message(p, 'van', 'Wheel angle (Dunlin)').signals[0]!.state = 'rejected';
  });
  expect(texts).toHaveLength(1);
  expect(texts[0]).toContain('routes[1].signals[1].from.signal: signal "Angle"');
});

test('a period that is no multiple of the step is refused, and the nearest ones are named', () => {
  const texts = refused((p) => {
    p.plan.routes[0]!.periodMs = 25;
    p.plan.routes[1]!.periodMs = 4;
  });
  expect(texts).toEqual([
    "refuse bridge.yaml routes[0].period_ms: 25 ms → a multiple of the gateway's step of 10 ms, 20 or 30 ms",
    "refuse bridge.yaml routes[1].period_ms: 4 ms → a multiple of the gateway's step of 10 ms, 10 ms",
  ]);
});

test('a translation that loses range or resolution is a caution with both ranges', () => {
  const texts = after(() => {});
  expect(texts).toContain(
    'caution bridge.yaml routes[0].signals[0]: Speed reaches -50 … 250 after gain and bias, Speed holds 0 … 511.938 km/h → a range that fits, or the certainty that cutting it off does no harm',
  );
  expect(texts).toContain(
    'caution bridge.yaml routes[0].signals[0]: Speed comes in steps of 0.01, Speed has steps of 0.0625 → a target as fine as the source, or the certainty that coarser will do',
  );
});

test('a scaling that 32-bit arithmetic cannot carry to one step is a caution with the greatest error', () => {
  const texts = after((p) => {
    const speed = message(p, 'van', 'Speed').signals[0]!;
    Object.assign(speed, {
      start: 7,
      length: 24,
      signed: false,
      min: undefined,
      max: undefined,
      scale: 0.001,
    });
    const [to, state] = message(p, 'plover', 'Van speed').signals;
    Object.assign(to!, { length: 24, scale: 0.00161803399 });
    state!.start = 24;
    p.plan.routes.splice(1);
  });
  const found = texts.find((t) => t.includes('32-bit arithmetic'));
  expect(found).toMatch(
    /^caution bridge.yaml routes\[0\].signals\[0\]: scaling Speed by 0.618034 is off by up to \d+\.\d+ steps of Speed/,
  );
});

test('a fixed value or a substitute that the target cannot hold is refused', () => {
  const texts = refused((p) => {
    p.plan.routes[0]!.signals[1]!.value = 8;
    p.plan.routes[1]!.signals[0]!.onLoss = 61;
  });
  expect(texts).toEqual([
    'refuse bridge.yaml routes[0].signals[1].value: 8 → a value that State holds: 0 … 7',
    'refuse bridge.yaml routes[1].signals[0].on_loss: 61 → a value that Speed holds: 0 … 60 m/s',
  ]);
});

test('a line with neither source nor value, with both, and a signal with two lines are refused', () => {
  const texts = refused((p) => {
    const [first, second] = p.plan.routes[0]!.signals;
    second!.value = undefined;
    first!.value = 3;
    p.plan.routes[0]!.signals.push({ ...first!, value: undefined });
  });
  expect(texts).toEqual([
    'refuse bridge.yaml routes[0].signals[0].value: both `from` and `value` → one of the two',
    'refuse bridge.yaml routes[0].signals[1]: neither `from` nor `value` → a signal to read, or a fixed value',
    'refuse bridge.yaml routes[0].signals[2].to: a second line for Speed → one line for each signal',
  ]);
});

test('two routes that write one identifier are refused, also under two message names', () => {
  const texts = refused((p) => {
    message(p, 'plover', 'Order').id = message(p, 'plover', 'Van speed').id;
    p.plan.routes[2]!.to = { bus: 'plover', message: 'Order' };
    p.plan.routes[2]!.signals = [{ to: 'Active', value: 0, gain: 1, bias: 0, onLoss: 'hold' }];
  });
  expect(texts).toEqual([
    'refuse bridge.yaml routes[2].to.message: route "Lüfter · display" sends Order on plover, as route "speed for Plover" does → one sender for each identifier of a bus',
  ]);
});

test('a guard and a route that write one identifier are refused', () => {
  const texts = refused((p) => {
    p.parts.guards = [bindGuard(guardPlan(), dictionaries(), 10).stage];
    p.plan.routes[2]!.to = { bus: 'plover', message: 'Order' };
    p.plan.routes[2]!.signals = [{ to: 'Active', value: 0, gain: 1, bias: 0, onLoss: 'hold' }];
  });
  expect(texts).toEqual([
    'refuse guard.yaml steering.output.message: the guard\'s steering.output sends Order on plover, as route "Lüfter · display" does → one sender for each identifier of a bus',
  ]);
});

test('routes that feed each other are refused with the whole circle, and so is waiting for an own frame', () => {
  const texts = refused((p) => {
    p.plan.routes[2]!.to = { bus: 'van', message: 'Speed' };
    p.plan.routes[2]!.signals = [
      {
        to: 'Speed',
        from: { bus: 'plover', message: 'Van speed', signal: 'Speed' },
        gain: 1,
        bias: 0,
        onLoss: 'hold',
      },
    ];
  });
  expect(
    texts.some((t) =>
      t.includes('routes that feed each other: speed for Plover ← Lüfter · display ← speed for Plover'),
    ),
  ).toBe(true);
  expect(texts.some((t) => t.includes('the gateway does not hear its own frames'))).toBe(true);
});

test('more traffic than a bus can carry is refused with its load', () => {
  const texts = refused((p) => {
    p.parts.buses = p.parts.buses.map((b) => (b.name === 'control' ? { ...b, bitRateBps: 5000 } : b));
  });
  // Worst case of a 29-bit frame with 8 bytes: 160 bits, 32 ms at 5 kbit/s, every 20 ms.
  expect(texts).toEqual([
    'refuse bridge.yaml routes[1].period_ms: 160 % load on control by the gateway alone → at most 100 %, with longer periods or a bit rate above 5000 bit/s',
  ]);
});

test('a bus that is full only with everything in its dictionary on it is a caution', () => {
  const texts = after((p) => {
    p.parts.buses = p.parts.buses.map((b) => (b.name === 'control' ? { ...b, bitRateBps: 20_000 } : b));
  });
  expect(texts.filter((t) => t.includes('load on'))).toEqual([
    'caution bridge.yaml routes[1].to.message: 120 % load on control if every message of its dictionary is on it → at most 100 %: leave out what is not on the bus, or send less often',
  ]);
});

test('a source age shorter than a step is refused, one shorter than period and step is a caution', () => {
  expect(
    refused((p) => {
      p.plan.routes[0]!.sourceAgeMs = 5;
      p.plan.routes[2]!.sourceAgeMs = 20_000;
    }),
  ).toEqual([
    "refuse bridge.yaml routes[0].source_age_ms: 5 ms → at least the gateway's step of 10 ms",
    'refuse bridge.yaml routes[2].source_age_ms: 20000 ms → at most 10220 ms with a step of 10 ms',
  ]);
  const cautions = after((p) => {
    p.plan.routes[0]!.sourceAgeMs = 15;
  });
  expect(
    cautions.some((t) => t.includes('routes[0].source_age_ms: 15 ms, while the source comes every 10 ms')),
  ).toBe(true);
});

test('what the gateway cannot write or read is refused in one sentence each', () => {
  const cases: [(p: Changeable) => void, string][] = [
    [
      (p) => {
        message(p, 'plover', 'Van speed').check!.algorithm = 'crc';
        message(p, 'plover', 'Van speed').check!.width = 4;
      },
      'is 4 bits wide → 8 or 16 bits',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').length = 9;
      },
      'Van speed has 9 bytes → 0 to 8 bytes (bus plover has no CAN FD)',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').signals[0]!.length = 33;
      },
      'Speed of Van speed has 33 bits → at most 24 bits',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').signals[0]!.start = 32;
      },
      'Speed of Van speed ends at bit 44 → a field inside the 40 bits of the message',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').signals[0]!.scale = 0;
      },
      'has scale 0',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').signals[1]!.start = 12;
      },
      'State and Speed of Van speed share bit 12',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').selector = { start: 0, length: 2, byteOrder: 'little' };
      },
      'has a selector',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').counter!.step = 16;
      },
      'steps by 16 of 16',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').check!.covers = [9];
      },
      'covers or ends outside it',
    ],
    [
      (p) => {
        message(p, 'plover', 'Van speed').check!.perCounter = [1, 2];
      },
      'has no constant for counter value',
    ],
    [
      (p) => {
        message(p, 'van', 'Speed').signals[0]!.min = 900;
      },
      'has min 900 and max 250',
    ],
  ];
  for (const [change, text] of cases) expect(refused(change).join('\n')).toContain(text);
});

test('a signal of the target without a line is a caution: it goes out as raw 0', () => {
  const texts = after((p) => {
    p.plan.routes[0]!.signals.pop();
  });
  expect(texts).toContain(
    'caution bridge.yaml routes[0].signals: no line for State → a line for it; it is sent as raw 0 now',
  );
});

test('a guard that names what is not there, or cannot order exactly zero, is refused in guard.yaml', () => {
  const texts = refused((p) => {
    const plan = guardPlan();
    plan.handover.speed.signal = 'Velocity';
    plan.steering.outputPeriodMs = 25;
    const order = message(p, 'plover', 'Order').signals[0]!;
    order.offset = 0.05;
    p.parts.guards = [bindGuard(plan, p.parts.dictionaries, 10).stage];
  });
  expect(texts).toEqual([
    'refuse guard.yaml handover.speed.signal: signal "Velocity" → a signal of message Speed: Speed, Reverse',
    "refuse guard.yaml steering.output_period_ms: 25 ms → a multiple of the gateway's step of 10 ms",
    'refuse guard.yaml steering.output_order: Angle of Order cannot hold exactly 0 → a scale, offset and limits with which a raw value means 0, its value when let go',
  ]);
});

test('an order signal that cannot hold the whole level is a caution', () => {
  const texts = after((p) => {
    message(p, 'plover', 'Order').signals[0]!.scale = 0.01;
    p.parts.guards = [bindGuard(guardPlan(), p.parts.dictionaries, 10).stage];
  });
  expect(texts).toContain(
    'caution guard.yaml steering.output_order: the guard orders -300 … 300, Angle holds -81.92 … 81.91 → a signal that holds the whole level, or a lower level',
  );
});
