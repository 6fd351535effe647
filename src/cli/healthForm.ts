/** A health report as the form `health/1` (docs/forms.md), which `bywright health --json` prints. */
import { formatId } from '../can/frame.ts';
import type { Health } from '../capture/health.ts';

export function healthForm(health: Health): object {
  return {
    form: 'health/1',
    frames: health.frames,
    seconds: rounded(health.seconds),
    buses: health.buses.map(({ load, gaps, ...bus }) => ({
      ...bus,
      load: {
        from: rounded(load.fromS),
        windowS: load.windowS,
        nominalBits: [...load.nominalBits],
        dataBits: [...load.dataBits],
        share: load.share && Array.from(load.share, rounded),
        mean: load.mean === null ? null : rounded(load.mean),
        greatest: load.greatest === null ? null : rounded(load.greatest),
      },
      gaps: gaps.map((g) => ({ from: rounded(g.fromS), to: rounded(g.toS), frame: g.frame, told: g.told })),
    })),
    messages: health.messages.map(({ id, extended, senders, ...m }) => ({
      ...m,
      id: formatId(id, extended),
      ext: extended ? 1 : 0,
      periodMs: orNull(m.periodMs),
      jitterMs: orNull(m.jitterMs),
      leastGapMs: orNull(m.leastGapMs),
      greatestGapMs: orNull(m.greatestGapMs),
      senders: senders && {
        sign: senders.sign,
        from: rounded(senders.fromS),
        to: rounded(senders.toS),
        share: rounded(senders.share),
      },
    })),
    clock: {
      back: health.clock.back.map(({ frame, bus, byS }) => ({ frame, bus, byS: rounded(byS) })),
      backCount: health.clock.backCount,
      outOfOrder: health.clock.outOfOrder,
    },
  };
}

function orNull(ms: number | null): number | null {
  return ms === null ? null : rounded(ms);
}

/** Microseconds of seconds, and no more digits than stamps have. */
function rounded(x: number): number {
  return Number(x.toFixed(6));
}
