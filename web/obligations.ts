/** Obligations in the order in which a reader wants them: what is not proved, then the rest by the kind that their names begin with. */
import type { ProofForm } from '../src/server/api.ts';

type Obligation = ProofForm['obligations'][number];

export interface ObligationGroup {
  /** Empty for those whose names have no kind. */
  title: string;
  obligations: Obligation[];
}

const URGENCY = { failed: 0, notShown: 1, vacuous: 2, proved: 3 } as const;

/** "release.button" is of the kind "release". Kinds keep the order in which they come; ranges of numbers stand last. */
export function obligationGroups(obligations: Obligation[]): ObligationGroup[] {
  const open = obligations
    .filter(({ status }) => status !== 'proved')
    .sort((a, b) => URGENCY[a.status] - URGENCY[b.status]);
  const kinds = new Map<string, Obligation[]>([['', []]]);
  for (const obligation of obligations.filter(({ status }) => status === 'proved')) {
    const kind = obligation.name.includes('.') ? (obligation.name.split('.')[0] as string) : '';
    kinds.set(kind, [...(kinds.get(kind) ?? []), obligation]);
  }
  const ranges = kinds.get('range') ?? [];
  kinds.delete('range');
  return [
    { title: 'not proved', obligations: open },
    ...[...kinds].map(([title, list]) => ({ title, obligations: list })),
    { title: 'range', obligations: ranges },
  ].filter((group) => group.obligations.length > 0);
}
