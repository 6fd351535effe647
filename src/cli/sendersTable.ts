/** Senders as text: messages by clock, how many units that may be, what comes after what, what could not be placed. */
import { formatId } from '../can/frame.ts';
import type { Senders } from '../findings/index.ts';
import { printFitted, printSentence } from './fitted.ts';
import { counted, printLine } from './print.ts';

/** From here on a message is said to belong to its group. */
const SURE = 0.9;

export function sendersTable(senders: Senders): void {
  const named = namesOf(senders);
  const { groups, units, limit } = senders;
  const several = groups.filter((g) => g.messages.length > 1);
  const alone = groups.filter((g) => g.messages.length === 1);
  const placed = groups.reduce((n, g) => n + g.messages.length, 0);
  if (units === null) printLine('Not enough to tell: no message shows the clock that it is sent from.');
  else {
    const range = units.low === units.high ? `${units.low}` : `${units.low} to ${units.high}`;
    printSentence(
      '',
      `${counted(placed, 'placed message')} from ${range} ${units.high === 1 ? 'unit' : 'units'} (5 to 95 %), ${units.likely} likeliest`,
    );
  }
  if (limit) printSentence('', limit.reason);
  if (several.length > 0) {
    printLine('\nSent from one clock');
    for (const g of several) {
      const timer = g.tickMs === null ? '' : `, all on ticks of ${g.tickMs} ms`;
      // What belongs as surely as the surest, and what only may.
      const surest = Math.max(...g.belongs);
      const sure = (k: number) => (g.belongs[k] as number) >= Math.min(SURE, surest - 0.1);
      const least = Math.min(...g.belongs.filter((_, k) => sure(k)));
      printLine(`  probability ${least.toFixed(2)}${timer}`);
      const items = g.messages.map(
        (i, k) => `${named(i)} ${period(senders, i)}${phase(g.phaseMs[k] ?? null)}`,
      );
      printWrapped(items.filter((_, k) => sure(k)));
      const perhaps = items.flatMap((item, k) =>
        sure(k) ? [] : [`${item} (${(g.belongs[k] as number).toFixed(2)})`],
      );
      if (perhaps.length > 0) {
        printLine('    perhaps also, with probability:');
        printWrapped(perhaps);
      }
      const addresses = addressesOf(
        senders,
        g.messages.filter((_, k) => sure(k)),
      );
      if (addresses !== null)
        printSentence('    ', `source in the identifiers, if they are J1939: ${addresses}`);
    }
    printLine('  Identifier, period in ms, phase in ms after the fastest of its clock.');
  }
  if (alone.length > 0) {
    printLine('\nNo sign of a common sender with another, or not enough to tell');
    printWrapped(alone.flatMap((g) => g.messages.map(named)));
  }
  if (senders.follows.length > 0) {
    printLine('\nComes after another');
    printFitted(
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
  for (const { i, reason } of left) printSentence('  ', `${named(i)}: ${reason}`);
  printLine(
    '\nFrom time stamps alone. One unit can hold two clocks, and one clock can serve several functions;\nevery pair with drift and probability: --json.',
  );
}

/** Evidence of another kind: the low byte of 29-bit identifiers, which SAE J1939-21 calls source address; null for others. */
function addressesOf(senders: Senders, group: readonly number[]): string | null {
  const messages = group.map((i) => senders.messages[i] as Senders['messages'][number]);
  if (!messages.every((m) => m.extended)) return null;
  const addresses = new Set(messages.map((m) => (m.id & 0xff).toString(16).toUpperCase().padStart(2, '0')));
  return [...addresses].sort().join(', ');
}

/** Items separated by commas, in lines of a terminal's width. */
function printWrapped(items: readonly string[]): void {
  let line = '   ';
  items.forEach((item, k) => {
    const piece = ` ${item}${k < items.length - 1 ? ',' : ''}`;
    if (line.length + piece.length > 100) {
      printLine(line);
      line = '   ';
    }
    line += piece;
  });
  printLine(line);
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
  if (ms === null) return '';
  return ` ${ms < -0.05 ? '−' : '+'}${Math.abs(ms).toFixed(1)}`;
}
