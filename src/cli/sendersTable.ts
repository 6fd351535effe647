/** Senders as text: messages by clock, how many units that may be, what comes after what, what could not be placed. */
import { formatId } from '../can/frame.ts';
import type { Senders } from '../findings/index.ts';
import { counted, printLine, printTable } from './print.ts';

export function sendersTable(senders: Senders): void {
  const named = namesOf(senders);
  const { groups, units, limit } = senders;
  const several = groups.filter((g) => g.messages.length > 1);
  const alone = groups.filter((g) => g.messages.length === 1);
  const placed = groups.reduce((n, g) => n + g.messages.length, 0);
  if (units === null) printLine('Not enough to tell: no message shows the clock that it is sent from.');
  else {
    const range = units.low === units.high ? `${units.low}` : `${units.low} to ${units.high}`;
    printLine(
      `${counted(placed, 'placed message')} from ${range} ${units.high === 1 ? 'unit' : 'units'} (5 to 95 %), ${units.likely} likeliest`,
    );
  }
  if (limit) printLine(limit.reason);
  if (several.length > 0) {
    printLine('\nSent from one clock');
    printTable(
      ['probability', 'timer ms', 'messages, with period and phase in ms'],
      several.map((g) => [
        g.probability.toFixed(2),
        g.tickMs === null ? '–' : String(g.tickMs),
        g.messages
          .map((i, k) => `${named(i)} (${period(senders, i)}, ${phase(g.phaseMs[k] ?? null)})`)
          .join(' '),
      ]),
    );
  }
  if (alone.length > 0) {
    printLine('\nNo sign of a common sender with another, or not enough to tell');
    printLine(`  ${alone.flatMap((g) => g.messages.map(named)).join(' ')}`);
  }
  if (senders.follows.length > 0) {
    printLine('\nComes after another');
    printTable(
      ['what', 'after', 'delay ms', '±', 'share', 'by chance', 'looked at'],
      senders.follows.map((f) => [
        f.by === 'change' ? `change of ${named(f.effect)}` : named(f.effect),
        f.of === 'change' ? `change of ${named(f.cause)}` : named(f.cause),
        (1000 * f.delayS).toFixed(1),
        (1000 * f.jitterS).toFixed(1),
        `${Math.floor(100 * f.share)} %`,
        `${(100 * f.chance).toFixed(1)} %`,
        String(f.count),
      ]),
    );
    printLine('What comes after another may answer it, or both may have one cause.');
  }
  const left = senders.messages.flatMap((m, i) => (m.reason === null ? [] : [{ i, reason: m.reason }]));
  if (left.length > 0) printLine('\nNot placed');
  for (const { i, reason } of left) printLine(`  ${named(i)}: ${reason}`);
  printLine(
    '\nFrom time stamps alone. One unit can hold two clocks, and one clock can serve several functions; every pair with\ndrift and probability: --json.',
  );
}

/** Identifiers, with the bus where there are several. */
function namesOf(senders: Senders): (i: number) => string {
  const buses = new Set(senders.messages.map((m) => m.bus)).size;
  return (i) => {
    const { bus, id, extended } = senders.messages[i] as Senders['messages'][number];
    return buses > 1 ? `${bus}:${formatId(id, extended)}` : formatId(id, extended);
  };
}

function period(senders: Senders, i: number): string {
  return `${Number((senders.messages[i]?.periodMs ?? 0).toPrecision(4))}`;
}

function phase(ms: number | null): string {
  if (ms === null) return 'phase unknown';
  return `${ms < -0.05 ? '−' : '+'}${Math.abs(ms).toFixed(1)}`;
}
