/** What the dossier may claim and what it may not: the two lists that stand on its second sheet. */
import type { DossierInput, DossierObligation } from './input.ts';

export interface Shown {
  shown: string[];
  notShown: string[];
}

/** Counts and lists come from the build; what no computation here can show is said in every dossier. */
export function shownAndNotShown(input: DossierInput): Shown {
  const shown: string[] = [];
  const notShown: string[] = [];
  proofItems(input, shown, notShown);
  budgetItems(input, shown, notShown);
  notShown.push(...dictionaryItems(input));
  if (input.problems.length > 0)
    notShown.push(
      `${counted(input.problems.length, 'problem')} in the build’s files, on the sheet “Open problems in the files”.`,
    );
  notShown.push(...ALWAYS_OPEN, ...unbounded(input));
  return { shown, notShown };
}

/** "1 obligation", "3 obligations". */
export function counted(n: number, word: string): string {
  return `${n} ${word}${n === 1 ? '' : 's'}`;
}

/** The limits of the method. */
const ALWAYS_OPEN = [
  'That a signal means what the dictionary says it means: each rests on the evidence beside it and on the person who accepted it.',
  'That the host’s figures (mass, inertia, cornering stiffness, steering ratio) are those of the real car, and that the single-track model holds where the tyres slide.',
  'That the driver reacts within the time that the budget assumes, every time.',
  'What the car does with loads, roads and grip other than those given to the budget.',
  'Faults inside the actuators, their supply, the microcontroller, the wiring, or the compiler that made the program.',
];

/** What a controller could move and this guard says nothing about. */
function unbounded({ guard }: DossierInput): string[] {
  if (guard === null) return [];
  const open = (['steering', 'braking', 'drive'] as const).filter((key) => guard[key] === undefined);
  return open.length === 0
    ? []
    : [`${open.join(' and ')}: this guard does not bound them.`.replace(/^./, (c) => c.toUpperCase())];
}

function proofItems({ guard, proof }: DossierInput, shown: string[], notShown: string[]): void {
  if (guard === null) {
    notShown.push('Any limit of the controller: the build has no guard.');
    return;
  }
  if (proof === null) {
    notShown.push('Any limit of the controller: nothing was proved yet.');
    return;
  }
  const named = (status: DossierObligation['status']) =>
    proof.obligations.filter((o) => o.status === status).map((o) => o.name);
  const proved = named('proved');
  if (proof.stale)
    notShown.push(
      `The guard as it is today: the kept proof of ${counted(proof.obligations.length, 'obligation')} is of another program, so none of it counts.`,
    );
  else if (proved.length > 0)
    shown.push(
      `${counted(proved.length, 'obligation')} of the guard’s program, each proved for every sequence of inputs, of every length, by a solver.`,
    );
  const rest: [DossierObligation['status'], string][] = [
    ['failed', 'a sequence of inputs is known that breaks it'],
    ['notShown', 'the solver found neither a proof nor a counterexample'],
    ['vacuous', 'its condition never comes about, so it says nothing'],
  ];
  if (proof.stale) return;
  for (const [status, meaning] of rest) {
    const names = named(status);
    if (names.length > 0)
      notShown.push(`${counted(names.length, 'obligation')} of the guard (${names.join(', ')}): ${meaning}.`);
  }
}

function budgetItems(input: DossierInput, shown: string[], notShown: string[]): void {
  if (input.guard === null) return;
  const { budget } = input;
  if (budget === null) {
    notShown.push(
      `That the guard’s tables stay within the budget: ${input.budgetError ?? 'it was not computed'}.`,
    );
    return;
  }
  for (const { channel, rows } of budget.channels) {
    const over = rows.filter((row) => row.level > row.levelMax || row.slew > row.slewMax);
    const within = rows.length - over.length;
    if (within > 0)
      shown.push(
        `The guard’s tables for ${channel} stay within the budget of vehicle dynamics and driver at ${within} of ${rows.length} computed speeds, with the figures of the host and of the budget given here.`,
      );
    if (over.length > 0)
      notShown.push(
        `At ${over.length} of ${rows.length} computed speeds the guard’s tables for ${channel} allow more than the budget: ${speeds(over.map((row) => row.speedMps))}.`,
      );
  }
  for (const { channel, why } of budget.missing)
    notShown.push(`That the tables for ${channel} stay within any budget: ${why}.`);
}

function dictionaryItems({ dictionaries }: DossierInput): string[] {
  const items: string[] = [];
  const signals = dictionaries.flatMap((d) => d.messages.flatMap((m) => m.signals));
  const proposed = signals.filter((s) => s.state === 'proposed').length;
  const bare = signals.filter((s) => s.state === 'accepted' && (s.evidence ?? []).length === 0).length;
  if (proposed > 0)
    items.push(
      `${counted(proposed, 'signal')} that is or are proposed and not accepted.`.replace(
        'is or are',
        proposed === 1 ? 'is' : 'are',
      ),
    );
  if (bare > 0) items.push(`${counted(bare, 'accepted signal')} without any evidence in the dictionary.`);
  return items;
}

function speeds(mps: number[]): string {
  const kmh = mps.map((v) => Math.round(v * 3.6));
  return kmh.length <= 6 ? `${kmh.join(', ')} km/h` : `from ${Math.min(...kmh)} to ${Math.max(...kmh)} km/h`;
}
