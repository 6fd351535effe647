/** Names of physical quantities that relations suggest: hints for a person, with the reason in words. */
import { type Grid, keyOf, type SignalPlace } from './grid.ts';
import type { NameHint, Relation } from './model.ts';

export function namesOf(grid: Grid, relations: readonly Relation[]): NameHint[] {
  const names: NameHint[] = [];
  const wheels = wheelSpeeds(grid, relations);
  if (wheels) {
    names.push({
      name: 'wheel speeds',
      signals: wheels.signals,
      words: `These four move together and split ${wheels.splits ? 'in bends' : 'a little'}, and have one length: wheel speeds.`,
      probability: wheels.splits ? 0.9 : 0.75,
    });
    for (const place of wheels.beside) {
      names.push({
        name: 'vehicle speed',
        signals: [place],
        words: 'Runs with the four wheel speeds in a message of its own: vehicle speed.',
        probability: 0.8,
      });
    }
  }
  for (const { kind, from, to, with: by, probability } of relations) {
    if (kind === 'product' && by) {
      const next = relations.some((r) => r.kind === 'product' && r.with && keyOf(r.with) === keyOf(to));
      const before = relations.some((r) => r.kind === 'product' && keyOf(r.to) === keyOf(by));
      names.push({
        name: next
          ? 'speed, steering angle, yaw rate'
          : before
            ? 'speed, yaw rate, lateral acceleration'
            : 'speed and turning',
        signals: [from, by, to],
        words: `The first times the second is the third: ${
          next
            ? 'speed × steering angle = yaw rate'
            : before
              ? 'speed × yaw rate = lateral acceleration'
              : 'speed × steering angle = yaw rate, or speed × yaw rate = lateral acceleration'
        }.`,
        probability: (next || before ? 0.9 : 0.7) * probability,
      });
    }
    if (kind === 'rate') {
      names.push({
        name: 'a quantity and its rate',
        signals: [from, to],
        words: 'The second is how fast the first changes: angle and rate, or speed and acceleration.',
        probability,
      });
    }
    if (kind === 'ratio') {
      names.push({
        name: 'two tracks',
        signals: [from, to],
        words: 'Two fields of one message in a fixed ratio: two tracks of one sensor, as of a pedal.',
        probability: 0.8 * probability,
      });
    }
    if (kind === 'inverse') {
      names.push({
        name: 'inverted copy',
        signals: [from, to],
        words: 'The second counts down where the first counts up: a redundant copy.',
        probability,
      });
    }
  }
  return names;
}

/** Four signals of one length and order in one or two messages of one bus, each tied to the others. */
function wheelSpeeds(
  grid: Grid,
  relations: readonly Relation[],
): { signals: SignalPlace[]; splits: boolean; beside: SignalPlace[] } | null {
  const tied = new Map<string, Map<string, SignalPlace>>();
  const tie = (a: SignalPlace, b: SignalPlace) => {
    const known = tied.get(keyOf(a)) ?? new Map<string, SignalPlace>();
    known.set(keyOf(b), b);
    tied.set(keyOf(a), known);
  };
  for (const { kind, from, to } of relations) {
    if (kind !== 'together' && kind !== 'copy') continue;
    tie(from, to);
    tie(to, from);
  }
  for (const signal of grid.signals) {
    if (signal.kind !== 'number' || signal.length < 8) continue;
    const here = tied.get(keyOf(signal));
    if (!here) continue;
    const alike = (p: SignalPlace) =>
      p.bus === signal.bus &&
      p.length === signal.length &&
      p.byteOrder === signal.byteOrder &&
      p.extended === signal.extended;
    const group = [signal as SignalPlace, ...[...here.values()].filter(alike)];
    const messages = new Map<number, SignalPlace[]>();
    for (const p of group) messages.set(p.id, [...(messages.get(p.id) ?? []), p]);
    // All four in one message, or two and two.
    const four = [...messages.values()].find((list) => list.length === 4);
    const pairs = [...messages.values()].filter((list) => list.length === 2);
    const signals = four ?? (pairs.length === 2 ? pairs.flat() : null);
    if (!signals) continue;
    const within = new Set(signals.map(keyOf));
    const beside = [...here.values()].filter(
      (p) => !within.has(keyOf(p)) && !messages.get(p.id)?.some((q) => within.has(keyOf(q))),
    );
    return { signals, splits: splitsOf(grid, signals), beside: beside.filter((p) => p.length >= 8) };
  }
  return null;
}

/** Whether left and right part for stretches of time and come together again, by more than rounding. */
function splitsOf(grid: Grid, signals: readonly SignalPlace[]): boolean {
  const found = signals.map((p) => grid.signals.find((s) => keyOf(s) === keyOf(p)));
  const [a, b] = found;
  if (!a || !b) return false;
  let apart = 0;
  let moving = 0;
  let most = 0;
  for (const v of a.value) most = Math.max(most, v);
  for (let c = 0; c < a.value.length; c++) {
    const v = a.value[c] as number;
    if (v < 0.1 * most) continue;
    moving++;
    if (Math.abs(v - (b.value[c] as number)) > Math.max(3, 0.01 * v)) apart++;
  }
  return moving > 0 && apart > 0.02 * moving && apart < 0.9 * moving;
}
