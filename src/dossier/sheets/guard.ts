/** The guard: what bounds the controller, and its tables under the budget. */
import { type ChannelPlan, channelPlans } from '../../guard/channels/plan.ts';
import type { GuardPlan } from '../../guard/model.ts';
import { limitOverBudget } from '../figures/index.ts';
import { type Html, html } from '../html.ts';
import type { DossierBudget, DossierInput } from '../input.ts';
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
        'guard.yaml of the build. Steering angles are those of the steering wheel, either side of straight ahead.',
      ),
    ],
    body:
      guard === null
        ? caution('The build has no guard: nothing bounds the controller.')
        : html`${planPart(guard)}${budgetPart(guard, input, numbering, document, width)}`,
  });
}

function planPart(guard: GuardPlan): Html {
  const h = guard.handover;
  const channels = channelPlans(guard);
  return html`<h3>Handing over and taking back</h3>
${facts([
  ['request of the controller', ref(h.request)],
  ['speed', ref(h.speed)],
  ['button that hands over', `${guard.armInput.name}, active ${guard.armInput.active}`],
  ['stop input', `${guard.stopInput.name}, active ${guard.stopInput.active}`],
  ['a command older than', `${measure(h.commandAgeMs, 'ms')}: trip`],
  ['a sensor older than', `${measure(h.sensorAgeMs, 'ms')}: trip`],
  ...(h.driverTorque
    ? [
        [
          'driver’s torque',
          `${ref(h.driverTorque.signal)}; from ${measure(h.driverTorque.atNm, 'N·m')} for ${measure(h.driverTorque.forMs, 'ms')}: release`,
        ] as [string, string],
      ]
    : []),
  ...h.driverActs.map((act): [string, string] => [
    `driver: ${act.name}`,
    `${ref(act.signal)}; for ${measure(act.forMs, 'ms')}: release`,
  ]),
  ...h.agreement.map((pair): [string, string] => [
    pair.name,
    `${ref(pair.first)} against ${ref(pair.second)}; further apart than ${measure(pair.differBy, pair.unit)} for ${measure(pair.forMs, 'ms')}: trip`,
  ]),
  ...(h.supply
    ? [
        [
          'supply of the actuators',
          `${ref(h.supply.signal)}; outside ${h.supply.lowV} … ${measure(h.supply.highV, 'V')} for ${measure(h.supply.forMs, 'ms')}: trip`,
        ] as [string, string],
      ]
    : []),
  ...(guard.remote
    ? [
        [
          'radio remote (bench and stand)',
          `selected by ${guard.remote.selected.name}, link ${ref(guard.remote.link)}; up to ${speed(guard.remote.speedMaxMps)}, with ${measure(guard.remote.sharePercent, '%')} of level and slew; never together with the controller`,
        ] as [string, string],
      ]
    : []),
  ['after release or trip', `every order back at zero within ${measure(h.releaseMs, 'ms')}, drive at once`],
  ['arming conditions must hold', measure(h.armHoldMs, 'ms')],
])}
${channels.map(channelPart)}
`;
}

function channelPart(c: ChannelPlan): Html {
  const order = c.outputOrder === null ? c.tracks.map((t) => t.signal).join(' and ') : c.outputOrder;
  return html`<h3>${c.key.replace(/^./, (letter) => letter.toUpperCase())}: ${c.quantity}</h3>
${facts([
  ['command of the controller', ref(c.command)],
  [
    'order',
    `${order}, ${c.outputActive} of ${c.output.message} on bus ${c.output.bus}, every ${measure(c.outputPeriodMs, 'ms')}`,
  ],
  ...(c.measured
    ? [
        [
          'starts at',
          `${ref(c.measured.signal)}; arming while the command differs from it by less than ${measure(c.measured.near, c.unit)}`,
        ] as [string, string],
      ]
    : []),
  ...(c.path
    ? [
        [
          'path of the road',
          `${ref(c.path.signal)}; the order stays within ${c.path.within.map(([v, y]) => `${measure(y, c.unit)} at ${speed(v)}`).join(', ')} of it`,
        ] as [string, string],
      ]
    : []),
  ...c.tracks.map((t, i): [string, string] => [
    `voltage ${i + 1}`,
    `${t.signal}: ${measure(t.restV, 'V')} at rest, ${measure(t.fullV, 'V')} at full`,
  ]),
  ...(c.windowV === null
    ? []
    : [['voltages belong together within', measure(c.windowV, 'V')] as [string, string]]),
])}
${table(
  [{ title: 'level at speed' }, { title: 'at most', kind: 'number' }],
  c.level.map(([v, y]) => [speed(v), measure(y, c.unit)]),
)}
${table(
  [{ title: 'slew at speed' }, { title: 'fastest change of the order', kind: 'number' }],
  c.slew.map(([v, y]) => [speed(v), measure(y, c.rateUnit)]),
)}
`;
}

function ref(r: { bus: string; message: string; signal: string }): string {
  return `${r.signal} of ${r.message} on bus ${r.bus}`;
}

function budgetPart(
  guard: GuardPlan,
  input: DossierInput,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const b = guard.budget;
  const detection =
    b.detectionTimeS === 0
      ? 'the guard gets no credit for stopping a runaway'
      : `the guard stops a runaway after ${measure(b.detectionTimeS, 's')}`;
  const steering = html`
<p>Steering: the greatest level and slew with which, the unit running away at its limit and the driver counter-steering after
${measure(b.reactionTimeS, 's')} (${detection}), the car keeps within ${measure(b.lateralDistanceM, 'm')} to the side,
${measure(b.lateralAccelerationMps2, 'm/s²')} of lateral acceleration and ${measure(b.lateralJerkMps3, 'm/s³')} of mean jerk, up to
${speed(b.speedMaxMps)}, ${bendWords(b.bendAccelerationMps2)}. Single-track model with the host’s figures of sheet 1${
    b.variants.length === 0 ? '' : ` and of ${b.variants.map((v) => v.name).join(', ')}; the least counts`
  }.</p>
`;
  const following =
    guard.braking && b.following
      ? html`
<p>Braking: the car behind, ${measure(b.following.gapS, 's')} back, brakes with ${measure(b.following.decelerationMps2, 'm/s²')} after
${measure(b.following.reactionTimeS, 's')} and does not close the gap.</p>
`
      : html``;
  const gains =
    guard.drive && b.drive
      ? html`
<p>Drive: at most ${measure(b.drive.speedGainMps, 'm/s')} and ${measure(b.drive.distanceM, 'm')} are gained before the driver brakes with
${measure(b.drive.brakingMps2, 'm/s²')}.</p>
`
      : html``;
  const head = html`<h3>Budget</h3>
${guard.steering ? steering : html``}${following}${gains}`;
  const { budget } = input;
  if (budget === null)
    return html`${head}${caution(`The budget was not computed: ${input.budgetError ?? 'no reason is known'}.`)}`;
  const plans = channelPlans(guard);
  return html`${head}
${budget.channels.map((channel) => {
  const plan = plans.find((c) => c.key === channel.channel);
  const plot = (quantity: 'level' | 'slew') =>
    limitOverBudget(
      {
        quantity,
        unit: quantity === 'level' ? channel.unit : channel.rateUnit,
        rows: channel.rows.map((row) => ({
          speedMps: row.speedMps,
          budget: quantity === 'level' ? row.levelMax : row.slewMax,
          limit: row[quantity],
        })),
        points: (plan?.[quantity] ?? []).map(([speedMps, value]) => ({ speedMps, value })),
      },
      { document, width },
    );
  return html`<h4>${channel.channel.replace(/^./, (letter) => letter.toUpperCase())}</h4>
${figureBlock(numbering.figure(), plot('level'), `Level for ${channel.channel} over speed, under the budget.`)}
${figureBlock(numbering.figure(), plot('slew'), `Slew for ${channel.channel} over speed, under the budget.`)}
${budgetTable(channel)}`;
})}
${budget.missing.map(({ channel, why }) => caution(`No budget for ${channel}: ${why}.`))}`;
}

function bendWords(bend: number | undefined): string {
  if (bend === undefined) return 'out of any bend that the level can hold';
  return bend === 0 ? 'from straight ahead only' : `out of bends of up to ${measure(bend, 'm/s²')}`;
}

/** Printed at about this many speeds, and always where the tables come closest to the budget; the figures show all. */
const ROWS = 12;

function budgetTable({ rows, unit, rateUnit }: DossierBudget['channels'][number]): Html {
  const every = Math.max(1, Math.ceil(rows.length / ROWS));
  const used = rows.map((row) => Math.max(row.level / row.levelMax, row.slew / row.slewMax));
  const closest = used.indexOf(Math.max(...used));
  const printed = rows.filter((_, i) => i % every === 0 || i === rows.length - 1 || i === closest);
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
      bound(row.level, unit),
      bound(row.levelMax, unit),
      bound(row.slew, rateUnit),
      bound(row.slewMax, rateUnit),
      row.level > row.levelMax || row.slew > row.slewMax
        ? html`<span class="word failed">over</span>`
        : html`<span class="word proved">within</span>`,
    ]),
  );
}

function bound(value: number, unit: string): string {
  return Number.isFinite(value) ? `${figure(value, 3)}\u00a0${unit}` : 'no bound';
}
