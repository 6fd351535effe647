/** Relations and cues as the pages draw them: every signal once, under its name where the dictionary has one. */
import { type FindingState, findingState } from '../../build/findingTarget.ts';
import { formatId } from '../../can/frame.ts';
import type { CueFinding } from '../../findings/cues/index.ts';
import type { Evidence } from '../../findings/model.ts';
import {
  keyOf,
  type RelationKind,
  type Relations,
  type SignalPlace,
} from '../../findings/relations/index.ts';
import { busOf, type Known } from './capture.ts';

/** A signal by its place, with what is known of it. */
export interface TiedSignal {
  bus: number;
  busName: string | null;
  id: string;
  ext: 0 | 1;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  /** Names from the dictionary; null where nobody gave one. */
  message: string | null;
  name: string | null;
  state: FindingState;
}

/** `GET /api/captures/:name/relations`: 200 with this, or 202 with a `JobReply`. */
export interface RelationsReply {
  capture: string;
  signals: TiedSignal[];
  /** `from`, `to` and `with` are places in `signals`; the rest as in `findings/1`. */
  relations: {
    kind: RelationKind;
    from: number;
    to: number;
    with: number | null;
    factor: number;
    offset: number;
    withFactor: number;
    delayS: number;
    delayLowS: number;
    delayHighS: number;
    r: number;
    probability: number;
    evidence: Evidence[];
  }[];
  copies: number[][];
  names: { name: string; signals: number[]; words: string; probability: number }[];
}

/** `GET /api/captures/:name/followers`: 200 with this, or 202 with a `JobReply`: what followed the cues of the capture. */
export interface FollowersReply {
  capture: string;
  /** null where no sheet speaks of the capture. */
  cues:
    | {
        name: string;
        repeats: number;
        more: number;
        open: string | null;
        candidates: (TiedSignal & {
          rank: number;
          pValue: number;
          pAlone: number;
          agreement: number;
          by: 'value' | 'moves';
          lagS: number;
          evidence: Evidence[];
        })[];
      }[]
    | null;
}

export function relationsView(capture: string, relations: Relations, known: Known): RelationsReply {
  const signals: TiedSignal[] = [];
  const places = new Map<string, number>();
  const at = (place: SignalPlace): number => {
    const key = keyOf(place);
    const there = places.get(key);
    if (there !== undefined) return there;
    places.set(key, signals.length);
    return signals.push(tied(place, known)) - 1;
  };
  return {
    capture,
    relations: relations.relations.map(({ from, to, with: other, ...figures }) => ({
      ...figures,
      from: at(from),
      to: at(to),
      with: other && at(other),
    })),
    copies: relations.copies.map((list) => list.map(at)),
    names: relations.names.map((hint) => ({ ...hint, signals: hint.signals.map(at) })),
    signals,
  };
}

export function followersView(capture: string, cues: CueFinding[] | null, known: Known): FollowersReply {
  return {
    capture,
    cues:
      cues?.map(({ candidates, ...cue }) => ({
        ...cue,
        candidates: candidates.map(({ rank, pValue, pAlone, agreement, by, lagS, evidence, ...place }) => ({
          ...tied(place, known),
          ...{ rank, pValue, pAlone, agreement, by, lagS, evidence },
        })),
      })) ?? null,
  };
}

function tied({ bus, id, extended, start, length, byteOrder }: SignalPlace, known: Known): TiedSignal {
  const busName = busOf(known, bus)?.name ?? null;
  const dictionary = known?.dictionaries.find((d) => d.bus === busName);
  const message = dictionary?.messages.find((m) => m.id === id && m.extended === extended);
  const signal = message?.signals.find(
    (s) => s.start === start && s.length === length && (length === 1 || s.byteOrder === byteOrder),
  );
  const target = { field: 'signal', start, length, selectorValue: signal?.selectorValue ?? null } as const;
  return {
    bus,
    busName,
    id: formatId(id, extended),
    ext: extended ? 1 : 0,
    start,
    length,
    byteOrder,
    message: message?.name ?? null,
    name: signal && signal.state !== 'rejected' ? signal.name : null,
    state: findingState(dictionary, { id, extended }, target),
  };
}
