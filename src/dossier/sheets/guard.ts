/** The guard: what bounds the controller, and its tables under the budget. */
import type { GuardPlan } from '../../guard/model.ts';
import { limitOverBudget } from '../figures/index.ts';
import { type Html, html } from '../html.ts';
import type { BudgetRow, DossierInput } from '../input.ts';
import { caution, facts, figureBlock, type Numbering, note, sheet, table } from '../sheet.ts';
import { figure, measure, speed } from '../words.ts';

export const guardTitle = 'Guard';

export function guardSheet(
  input: DossierInput,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const number = numbering.sheet();
  const { guard } = input;
  return sheet({
    number,
    title: guardTitle,
    lead: 'What the controller can never do, whatever it asks for, and how the driver takes the car back.',
    notes: [
      note(
        'Source',
        'guard.yaml of the build. Angles are steering-wheel angles, either side of straight ahead.',
      ),
    ],
    body:
      guard === null
        ? caution('The build has no guard: nothing bounds the controller.')
        : html`${planPart(guard)}${budgetPart(guard, input, numbering, document, width)}`,
  });
}

function planPart(guard: GuardPlan): Html {
  const s = guard.steering;
  const ref = (r: { bus: string; message: string; signal: string }) =>
    `${r.signal} of ${r.message} on bus ${r.bus}`;
  return html`<h3>Signals</h3>
${facts([
  ['command of the controller', ref(s.command)],
  ['its request to steer', ref(s.request)],
  ['speed', ref(s.speed)],
  ['measured angle', ref(s.angle)],
  ['driver’s torque', ref(s.driverTorque)],
  [
    'order to the steering unit',
    `${s.outputAngle} and ${s.outputActive} of ${s.output.message} on bus ${s.output.bus}, every ${measure(s.outputPeriodMs, 'ms')}`,
  ],
  ['button that hands over', `${guard.armInput.name}, active ${guard.armInput.active}`],
  ['stop input', `${guard.stopInput.name}, active ${guard.stopInput.active}`],
])}
<h3>Times and thresholds</h3>
${facts([
  ['command older than', `${measure(s.commandAgeMs, 'ms')}: trip`],
  ['speed, angle or torque older than', `${measure(s.sensorAgeMs, 'ms')}: trip`],
  [
    'driver’s torque from',
    `${measure(s.overrideTorqueNm, 'N·m')} for ${measure(s.overrideMs, 'ms')}: release`,
  ],
  ['after release or trip', `order back at zero within ${measure(s.releaseMs, 'ms')}`],
  ['arming conditions must hold', measure(s.armHoldMs, 'ms')],
  ['arming while command and measured angle differ by less than', measure(s.armAngleDeg, '°')],
])}
<h3>Level and slew over speed</h3>
${table(
  [{ title: 'level at speed' }, { title: 'greatest angle', kind: 'number' }],
  s.level.map((p) => [speed(p.speedMps), measure(p.angleDeg, '°')]),
)}
${table(
  [{ title: 'slew at speed' }, { title: 'fastest change of the order', kind: 'number' }],
  s.slew.map((p) => [speed(p.speedMps), measure(p.rateDegPerS, '°/s')]),
)}
`;
}

function budgetPart(
  guard: GuardPlan,
  input: DossierInput,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const b = guard.budget;
  const s = guard.steering;
  const detection =
    b.detectionTimeS === 0
      ? 'the guard gets no credit for stopping a runaway'
      : `the guard stops a runaway after ${measure(b.detectionTimeS, 's')}`;
  const head = html`<h3>Budget</h3>
<p>The greatest level and slew with which, the steering unit running away at its limit and the driver counter-steering after
${measure(b.reactionTimeS, 's')} (${detection}), the car keeps within ${measure(b.lateralDistanceM, 'm')} to the side,
${measure(b.lateralAccelerationMps2, 'm/s²')} of lateral acceleration and ${measure(b.lateralJerkMps3, 'm/s³')} of mean jerk, up to
${speed(b.speedMaxMps)}. Single-track model with the host’s figures of sheet 1.</p>
`;
  const { budget } = input;
  if (budget === null)
    return html`${head}${caution(`The budget was not computed: ${input.budgetError ?? 'no reason is known'}.`)}`;
  const plot = (quantity: 'level' | 'slew') =>
    limitOverBudget(
      {
        quantity,
        rows: budget.map((row) => ({ speedMps: row.speedMps, ...pair(row, quantity) })),
        points:
          quantity === 'level'
            ? s.level.map((p) => ({ speedMps: p.speedMps, value: p.angleDeg }))
            : s.slew.map((p) => ({ speedMps: p.speedMps, value: p.rateDegPerS })),
      },
      { document, width },
    );
  return html`${head}
${figureBlock(numbering.figure(), plot('level'), 'Level of the guard over speed, under the budget.')}
${figureBlock(numbering.figure(), plot('slew'), 'Slew of the guard over speed, under the budget.')}
${budgetTable(budget)}`;
}

function pair(row: BudgetRow, quantity: 'level' | 'slew'): { budget: number; limit: number } {
  return quantity === 'level'
    ? { budget: row.levelMaxDeg, limit: row.levelDeg }
    : { budget: row.slewMaxDegPerS, limit: row.slewDegPerS };
}

/** Printed at about this many speeds, and always where the tables come closest to the budget; the figures show all. */
const ROWS = 12;

function budgetTable(budget: BudgetRow[]): Html {
  const every = Math.max(1, Math.ceil(budget.length / ROWS));
  const used = budget.map((row) =>
    Math.max(row.levelDeg / row.levelMaxDeg, row.slewDegPerS / row.slewMaxDegPerS),
  );
  const closest = used.indexOf(Math.max(...used));
  const printed = budget.filter((_, i) => i % every === 0 || i === budget.length - 1 || i === closest);
  return table(
    [
      { title: 'speed' },
      { title: 'level, guard', kind: 'number' },
      { title: 'level, budget', kind: 'number' },
      { title: 'slew, guard', kind: 'number' },
      { title: 'slew, budget', kind: 'number' },
      { title: '' },
    ],
    printed.map((row) => [
      speed(row.speedMps),
      angle(row.levelDeg, '°'),
      angle(row.levelMaxDeg, '°'),
      angle(row.slewDegPerS, '°/s'),
      angle(row.slewMaxDegPerS, '°/s'),
      row.levelDeg > row.levelMaxDeg || row.slewDegPerS > row.slewMaxDegPerS
        ? html`<span class="word failed">over</span>`
        : html`<span class="word proved">within</span>`,
    ]),
  );
}

function angle(value: number, unit: string): string {
  return Number.isFinite(value) ? `${figure(value, 3)}\u00a0${unit}` : 'no bound';
}
