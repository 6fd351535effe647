/** Senders as they stand in `findings/1` (docs/forms.md). */
import { formatId } from '../../can/frame.ts';
import type { Follow } from './follows.ts';
import type { NotPlaced, PairWord, Senders } from './model.ts';

export interface SenderEvidenceForm {
  units: Senders['units'];
  groups: {
    messages: { bus: number; id: string; probability: number; phaseMs: number | null }[];
    probability: number;
    tickMs: number | null;
  }[];
  /** Pairs of which something is known: all but those without a sign of a common sender. */
  pairs: {
    a: { bus: number; id: string };
    b: { bus: number; id: string };
    probability: number;
    word: PairWord;
    driftPpm: number | null;
    errorPpm: number | null;
    sharedSilences: number;
  }[];
  notPlaced: { bus: number; id: string; why: NotPlaced; reason: string }[];
  follows: FollowForm[];
  limit: Senders['limit'];
}

export interface FollowForm {
  effect: { bus: number; id: string };
  by: Follow['by'];
  cause: { bus: number; id: string };
  of: Follow['of'];
  delayMs: number;
  jitterMs: number;
  count: number;
  share: number;
  chance: number;
  copiesPace: boolean;
}

export function sendersForm(senders: Senders): { senders: string[][]; senderEvidence: SenderEvidenceForm } {
  const named = (i: number) => {
    const { bus, id, extended } = senders.messages[i] as Senders['messages'][number];
    return { bus, id: formatId(id, extended) };
  };
  return {
    senders: senders.groups.map(({ messages }) => messages.map((i) => named(i).id)),
    senderEvidence: {
      units: senders.units,
      groups: senders.groups.map(({ messages, belongs, probability, tickMs, phaseMs }) => ({
        messages: messages.map((i, k) => ({
          ...named(i),
          probability: rounded(belongs[k] ?? 1) as number,
          phaseMs: rounded(phaseMs[k] ?? null),
        })),
        probability: rounded(probability) as number,
        tickMs,
      })),
      pairs: senders.pairs
        .filter(({ word }) => word !== 'noSign')
        .map(({ a, b, probability, word, driftPpm, errorPpm, sharedSilences }) => ({
          a: named(a),
          b: named(b),
          probability: rounded(probability) as number,
          word,
          driftPpm: rounded(driftPpm),
          errorPpm: rounded(errorPpm),
          sharedSilences,
        })),
      notPlaced: senders.messages.flatMap(({ notPlaced, reason }, i) =>
        notPlaced === null ? [] : [{ ...named(i), why: notPlaced, reason: reason ?? '' }],
      ),
      follows: senders.follows.map((f) => ({
        effect: named(f.effect),
        by: f.by,
        cause: named(f.cause),
        of: f.of,
        delayMs: rounded(1000 * f.delayS) as number,
        jitterMs: rounded(1000 * f.jitterS) as number,
        count: f.count,
        share: rounded(f.share) as number,
        chance: rounded(f.chance) as number,
        copiesPace: f.copiesPace,
      })),
      limit: senders.limit,
    },
  };
}

/** Four digits are more than any of these figures means. */
function rounded(x: number | null): number | null {
  return x === null ? null : Number(x.toPrecision(4));
}
