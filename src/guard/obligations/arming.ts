/** Handing over: only with every condition, only by a fresh press, never by itself. */
import type { Obligation, Watch } from './watch.ts';

export function arming(w: Watch): Obligation[] {
  const { b, f, input } = w;
  const letGo = b.stateBool('seen_let_go', false);
  b.next(letGo, b.and(b.not(w.nowIs('armed')), b.or(letGo, b.not(input('arm_input')))));
  const press = `up for ${f.buttonUpSteps} steps since the last press, then down for ${f.buttonDownSteps}`;
  return [
    ...w.conditions.map(
      (c): Obligation => ({
        name: `arm.${c.name}`,
        sentence: `The guard arms only where ${c.text}.`,
        when: w.arms,
        must: c.holds,
      }),
    ),
    {
      name: 'arm.hold',
      sentence: `The guard arms only after all arming conditions have held together for ${f.armHoldSteps} steps.`,
      when: w.arms,
      must: w.held,
    },
    {
      name: 'arm.press',
      sentence: `The guard arms only in the step in which a press of the button counts: ${press}.`,
      when: w.arms,
      must: w.press,
    },
    {
      name: 'arm.not-by-itself',
      sentence:
        'Since it was last armed, and since the start, the button was let go before the guard arms again.',
      when: w.arms,
      must: letGo,
    },
    {
      name: 'arm.from-ready',
      sentence: 'The guard arms only after it has shown that it is ready.',
      when: w.arms,
      must: w.lastWas('ready'),
    },
    {
      name: 'ready.only',
      sentence: 'The guard shows ready only while all arming conditions have held for the hold time.',
      when: w.nowIs('ready'),
      must: w.held,
    },
    {
      name: 'ready.offered',
      sentence: `At rest, with the arming conditions held for ${f.armHoldSteps} steps, the guard is ready or armed.`,
      when: b.and(b.or(w.lastWas('idle'), w.lastWas('ready')), w.held),
      must: b.or(w.nowIs('ready'), w.nowIs('armed')),
    },
    {
      name: 'arm.offered',
      sentence: 'Ready, with the arming conditions held, a press arms.',
      when: b.and(w.lastWas('ready'), w.held, w.press),
      must: w.nowIs('armed'),
    },
    {
      name: 'armed.stays',
      sentence: 'Armed, and with no reason to release or trip, the guard stays armed.',
      when: b.and(w.lastWas('armed'), b.not(w.triggers.map((t) => t.holds).reduce((x, y) => b.or(x, y)))),
      must: w.nowIs('armed'),
    },
  ];
}
