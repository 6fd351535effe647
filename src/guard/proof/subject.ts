/** What a proof is about: the guard's program, its observer and the helping statements, joined without touching the guard. */
import { CLOCK_MAX, LogicError } from '../../logic/error.ts';
import type { LogicNode, NodeId, Program } from '../../logic/form.ts';
import { CHANNELS, type ChannelKey } from '../channels/plan.ts';
import type { GuardFigures } from '../figures.ts';
import { guardInvariants } from '../invariants.ts';
import { join } from '../join.ts';
import { guardObserver } from '../obligations/index.ts';
import type { Sees } from './view.ts';

/** An obligation in the program that the solver and the simulation see. */
export interface Claim {
  name: string;
  sentence: string;
  when: NodeId;
  must: NodeId;
  /** Claims of one group go to the solver in one query. */
  group: string;
  /** What its query has to see at least, as far as is known: more is asked where this does not show it. */
  sees: Sees;
}

export interface Statement {
  name: string;
  node: NodeId;
  group: string;
  sees: Sees;
  /** It speaks of the tables of the channels that it sees: of no use to a query that lets their orders free. */
  ofTables: boolean;
}

export interface Subject {
  /** What is flashed: its nodes stand unchanged at the beginning of `program.nodes`. */
  guard: Program;
  figures: GuardFigures;
  /** Guard, observer and statements. */
  program: Program;
  claims: Claim[];
  statements: Statement[];
}

/** These take the solver seconds; everything else together takes less than one of them. */
const ALONE = /\.(slew|remote-slew|fade-even)$/;
/** That every order is gone in time takes all channels at once. */
const TOGETHER = /^(release\.(?!ends)|stop$|fade_left$|since_)/;
const OF_CHANNEL = new RegExp(`(?:^|[._])(${CHANNELS.join('|')})(?=[-._]|$)`);

/** Groups are cut so that a query reads as little as it needs: one channel, none, or all of them. */
function placed(name: string, kind: string): { group: string; sees: Sees } {
  if (TOGETHER.test(name)) return { group: `${kind}, together`, sees: null };
  const channel = OF_CHANNEL.exec(name)?.[1] as ChannelKey | undefined;
  return channel ? { group: `${kind} of ${channel}`, sees: [channel] } : { group: kind, sees: [] };
}

/** `figures` are those of the specification (`specFigures`), whatever the guard was built from. */
export function guardSubject(guard: Program, figures: GuardFigures): Subject {
  const observer = guardObserver(figures);
  const watched = join(guard, observer.program, 'inputsAndOutputs');
  const joined = join(watched, guardInvariants(watched, figures), 'states');
  const nodes = joined.nodes.slice();
  const output = (name: string): NodeId => {
    const found = joined.outputs.find((o) => o.name === name);
    if (!found) throw new LogicError(`program ${joined.name} has no output ${name}`);
    return found.node;
  };
  const ranges = guard.states.flatMap((state): Claim[] => {
    if (state.type === 'bool' || state.hi === CLOCK_MAX) return [];
    const push = (node: LogicNode): NodeId => nodes.push(node) - 1;
    const number = (v: number) => push({ kind: 'const', type: 'int', lo: v, hi: v, name: '', value: v });
    const le = (a: NodeId, b: NodeId) => push({ kind: 'le', type: 'bool', lo: 0, hi: 1, name: '', a, b });
    const low = le(number(state.lo), state.next);
    const high = le(state.next, number(state.hi));
    return [
      {
        name: `range.${state.name.replace(/_/g, '-')}`,
        sentence: `The guard's number ${state.name} (${state.note}) stays within ${state.lo} … ${state.hi}.`,
        when: push({ kind: 'const', type: 'bool', lo: 1, hi: 1, name: '', value: 1 }),
        must: push({ kind: 'and', type: 'bool', lo: 0, hi: 1, name: '', a: low, b: high }),
        ...placed(`range.${state.name}`, 'obligations'),
      },
    ];
  });
  const owed = observer.obligations.map(
    (o): Claim => ({
      name: o.name,
      sentence: o.sentence,
      when: output(o.when),
      must: output(o.must),
      ...placed(o.name, ALONE.test(o.name) ? o.name : 'obligations'),
    }),
  );
  const statements = joined.outputs
    .filter((o) => o.name.startsWith('holds_'))
    .map((o): Statement => {
      const name = o.name.slice('holds_'.length);
      return {
        name,
        node: o.node,
        ...placed(name, name.split('_')[0] as string),
        ofTables: /^(level|fade)_/.test(name),
      };
    });
  return { guard, figures, program: { ...joined, nodes }, claims: [...ranges, ...owed], statements };
}
