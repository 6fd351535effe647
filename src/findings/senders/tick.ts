/** The timer of a group: phases of its messages against its fastest one, and the step on which they all fall. */
import type { Clock } from './clock.ts';
import type { PairsOfRecording } from './evidence.ts';
import type { SenderGroup } from './model.ts';
import { wrap } from './robust.ts';

const TICKS_MS = [100, 50, 40, 25, 20, 12.5, 10, 8, 5, 4, 2.5, 2];
/** A step is told where phases fall on it so closely that any phases would do so with no more than this probability. */
const BY_CHANCE = 0.001;

/** `members`: places in the list of `n` messages, with the probability that each belongs. */
export function groupOf(
  members: readonly { message: number; belongs: number }[],
  parts: readonly PairsOfRecording[],
  n: number,
): SenderGroup {
  const sorted = [...members].sort((a, b) => a.message - b.message);
  const messages = sorted.map(({ message }) => message);
  const belongs = sorted.map((m) => m.belongs);
  const probability = belongs.reduce((least, p) => Math.min(least, p), 1);
  const alone = { messages, belongs, probability, tickMs: null, phaseMs: messages.map(() => null) };
  const part = parts.find(({ clocks }) => messages.every((i) => typeof clocks[i] !== 'string'));
  if (part === undefined || messages.length < 2) return alone;
  const fastest = messages.reduce((best, i) => (period(part, i) < period(part, best) ? i : best));
  const phases = messages.map((i) => phaseAfter(part, fastest, i, n));
  const beatS = period(part, fastest);
  const known = phases.filter((p, k) => p !== null && messages[k] !== fastest) as Phase[];
  return {
    ...alone,
    tickMs: tickOf(known, beatS),
    phaseMs: phases.map((p) => (p === null ? null : 1000 * p.offsetS)),
  };
}

interface Phase {
  offsetS: number;
  spreadS: number;
}

function period(part: PairsOfRecording, i: number): number {
  return (part.clocks[i] as Clock).fittedS;
}

function phaseAfter(part: PairsOfRecording, fastest: number, i: number, n: number): Phase | null {
  if (i === fastest) return { offsetS: 0, spreadS: 0 };
  const phase = part.pairs.get(Math.min(i, fastest) * n + Math.max(i, fastest))?.phase ?? null;
  if (phase === null || phase.beatS < 0.9 * period(part, fastest)) return null;
  // The pair counts the slower after the faster; two of almost one period may stand the other way round.
  const sign = period(part, i) >= period(part, fastest) ? 1 : -1;
  return { offsetS: sign * phase.offsetS, spreadS: phase.spreadS };
}

/** The longest step that all phases fall on and that divides the period of the fastest. */
function tickOf(phases: readonly Phase[], beatS: number): number | null {
  for (const ms of TICKS_MS) {
    const tick = ms / 1000;
    const parts = Math.round(beatS / tick);
    if (parts < 1 || Math.abs(beatS / tick / parts - 1) > 0.002) continue;
    let chance = 1;
    let fits = true;
    for (const { offsetS, spreadS } of phases) {
      fits &&= Math.abs(wrap(offsetS, tick)) < spreadS;
      chance *= Math.min(1, (2 * spreadS) / tick);
    }
    if (fits && phases.length > 0 && chance < BY_CHANCE) return ms;
  }
  return null;
}
