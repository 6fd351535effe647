/** Relations put into words and around one signal, for the figure and its table. */
import type { RelationBranch, RelationDrawingData, RelationPlate } from '../src/dossier/figures/index.ts';
import type { RelationsReply, TiedSignal } from '../src/server/api.ts';
import type { MessagePlace, SignalPlace } from './route.ts';
import { figure, probabilityWords } from './words.ts';

export type Relation = RelationsReply['relations'][number];

/** A relation seen from one of its signals. */
export interface Tie {
  relation: Relation;
  /** Place in `signals` of the one at the other end. */
  other: number;
  side: 'left' | 'right';
}

/** Where nothing better is known, the walk begins at the signal with the most and surest ties, and least at those that only move alike. */
export function startOf({ signals, relations }: RelationsReply): number {
  const weight = new Array<number>(signals.length).fill(0);
  for (const { kind, from, to, with: second, probability } of relations)
    for (const at of [from, to, second ?? -1])
      if (at >= 0) weight[at] = (weight[at] as number) + (kind === 'together' ? 0.2 : 1) * probability;
  return weight.indexOf(Math.max(...weight, 0));
}

export function indexOf({ signals }: RelationsReply, place: SignalPlace): number {
  return signals.findIndex(
    (s) => s.bus === place.bus && s.id === place.id && s.ext === place.ext && s.start === place.start,
  );
}

/**
 * Ties of a signal, the telling kinds first; what merely moves together stands last. What is made of others stands at their right; of
 * the same quantity in two places the later one does.
 */
export function tiesOf({ relations }: RelationsReply, at: number): Tie[] {
  return relations
    .flatMap((relation): Tie[] => {
      const { from, to, with: second } = relation;
      if (isAlike(relation)) {
        if (at !== from && at !== to) return [];
        const other = at === from ? to : from;
        const comes = laterBy(relation) * (at === from ? 1 : -1);
        return [{ relation, other, side: comes < 0 ? 'left' : 'right' }];
      }
      if (at === to)
        return [from, second].flatMap((other) =>
          other === null ? [] : [{ relation, other, side: 'left' as const }],
        );
      return at === from || at === second ? [{ relation, other: to, side: 'right' }] : [];
    })
    .sort((a, b) => rankOf(a) - rankOf(b) || b.relation.probability - a.relation.probability);
}

/** Neither is made of the other. */
function isAlike({ kind }: Relation): boolean {
  return kind === 'copy' || kind === 'inverse' || kind === 'ratio' || kind === 'together';
}

/** Seconds by which `to` is later; 0 where the bounds leave it open which comes first. */
function laterBy({ delayS, delayLowS, delayHighS }: Relation): number {
  return delayLowS <= 0 && delayHighS >= 0 ? 0 : delayS;
}

const RANK = ['copy', 'inverse', 'ratio', 'rate', 'sum', 'product', 'together'] as const;

function rankOf({ relation }: Tie): number {
  return RANK.indexOf(relation.kind);
}

export interface Around extends RelationDrawingData {
  /** Ties that have no room in the drawing. */
  more: number;
}

/** More plates than this on one side cannot be read. */
const PER_SIDE = 7;

export function aroundOf(reply: RelationsReply, at: number): Around {
  const ties = tiesOf(reply, at);
  const side = (name: Tie['side']) => ties.filter((tie) => tie.side === name);
  const shown = (name: Tie['side']) =>
    side(name)
      .slice(0, PER_SIDE)
      .map((tie) => branchOf(reply, at, tie));
  return {
    centre: plateOf(reply, at),
    left: shown('left'),
    right: shown('right'),
    more: ties.length - Math.min(PER_SIDE, side('left').length) - Math.min(PER_SIDE, side('right').length),
  };
}

function plateOf({ signals }: RelationsReply, at: number): RelationPlate {
  const signal = signals[at] as TiedSignal;
  return {
    key: String(at),
    title: signalTitle(signal),
    place: signalPlace(signal),
    isAccepted: signal.state === 'accepted',
  };
}

function branchOf(reply: RelationsReply, at: number, { relation, other, side }: Tie): RelationBranch {
  const { kind, from, to, with: second } = relation;
  const third = [from, to, second].find((i) => i !== null && i !== at && i !== other) ?? null;
  const signal = third === null ? undefined : reply.signals[third];
  const hasArrow = !isAlike(relation) || laterBy(relation) !== 0;
  return {
    plate: plateOf(reply, other),
    words: kindWords(relation),
    figures: `${delayWords(relation, other === to ? 'to' : 'from')}, p ${probabilityWords(relation.probability)}`,
    note: signal ? `with ${signalTitle(signal)}` : '',
    line: kind === 'copy' || kind === 'inverse' ? 'double' : kind === 'rate' ? 'dashed' : 'single',
    towards: !hasArrow ? 'neither' : side === 'left' ? 'centre' : 'plate',
  };
}

/** "copy × 0.5", "rate of change", "moves alike". */
export function kindWords({ kind, factor, offset }: Relation): string {
  switch (kind) {
    case 'copy':
      return factor === 1 && offset === 0 ? 'copy' : `copy × ${figure(factor)}`;
    case 'inverse':
      return 'counted down';
    case 'ratio':
      return `ratio ${figure(factor)}`;
    case 'rate':
      return 'rate of change';
    case 'sum':
      return 'sum';
    case 'product':
      return 'product';
    case 'together':
      return 'moves alike';
  }
}

/** How the raw values hang together, in full. */
export function formulaWords({ kind, factor, offset, withFactor }: Relation): string {
  const plus = (x: number) => (x === 0 ? '' : x < 0 ? ` − ${figure(-x)}` : ` + ${figure(x)}`);
  switch (kind) {
    case 'rate':
      return `${figure(factor)} × rate per second`;
    case 'sum':
      return `${figure(factor)} × first${withFactor < 0 ? ' − ' : ' + '}${figure(Math.abs(withFactor))} × second${plus(offset)}`;
    case 'product':
      return `${figure(factor)} × first × second, up to zero points`;
    case 'together':
      return '–';
    default:
      return `${figure(factor)} × first${plus(offset)}`;
  }
}

/** When one end comes, seen from the other: "12 ms later", "at once" where the bounds leave it open which comes first. */
export function delayWords(relation: Relation, of: 'from' | 'to' = 'to'): string {
  const later = laterBy(relation) * (of === 'to' ? 1 : -1);
  return later === 0
    ? 'at once'
    : `${figure(Math.round(1000 * Math.abs(later)))} ms ${later < 0 ? 'earlier' : 'later'}`;
}

export function signalTitle({ name, id, start, length }: TiedSignal): string {
  return name ?? (length === 1 ? `${id} bit ${start}` : `${id} bit ${start}, ${length} long`);
}

/** "message wheels 1A0, bit 16, 12 long, bus chassis" */
export function signalPlace({ message, id, start, length, busName, bus, name }: TiedSignal): string {
  const of = message ? `${message} ${id}` : name ? id : '';
  const bits = name ? `bit ${start}, ${length} long` : '';
  return [of, bits, `bus ${busName ?? bus}`].filter(Boolean).join(', ');
}

export function messageOfSignal({ bus, id, ext }: TiedSignal): MessagePlace {
  return { bus, id, ext };
}
