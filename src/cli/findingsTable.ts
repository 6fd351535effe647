/** Findings as text: one line per message, then its fields. */
import { formatId } from '../can/frame.ts';
import type { Findings, FoundCheck, FoundMessage } from '../findings/model.ts';
import { hexOf, placeWords } from '../findings/words.ts';
import { printFitted, printSentence } from './fitted.ts';
import { counted, grouped, printLine } from './print.ts';

export function findingsTable(findings: Findings): void {
  printLine(
    `${counted(findings.frames, 'frame')} in ${findings.seconds.toFixed(1)} s, ${counted(findings.messages.length, 'message')}`,
  );
  printLine();
  printFitted(
    ['bus', 'id', 'bytes', 'frames', 'period ms', 'jitter ms', 'counter', 'check field', 'other fields'],
    findings.messages.map((m) => [
      String(m.bus),
      formatId(m.id, m.extended),
      String(m.length),
      grouped(m.frames),
      m.periodMs === null ? '–' : m.periodMs.toFixed(1),
      m.jitterMs === null ? '–' : m.jitterMs.toFixed(2),
      counterWords(m),
      m.check ? checkWords(m.check) : '',
      fieldWords(m),
    ]),
  );
  const open = findings.messages.filter((m) => m.open.length > 0);
  if (open.length > 0) {
    printLine();
    printLine('Not enough to tell:');
    const buses = new Set(findings.messages.map(({ bus }) => bus)).size;
    for (const [text, messages] of byText(open)) {
      const names = messages.map((m) => (buses > 1 ? `${m.bus}:` : '') + formatId(m.id, m.extended));
      const all = messages.length === findings.messages.length && messages.length > 1;
      printSentence('  ', `${all ? 'All messages' : names.join(' ')}: ${text}`);
    }
  }
  printLine();
  printLine(
    'One message field by field, with probabilities and evidence: --message ID; everything: --json.\nNothing counts until you accept it into the dictionary, on the sheet Messages of the workbench\n(`bywright open`).',
  );
}

/** What is open, with the messages of which it is said. */
function byText(open: readonly FoundMessage[]): Map<string, FoundMessage[]> {
  const texts = new Map<string, FoundMessage[]>();
  for (const m of open) for (const text of m.open) texts.set(text, [...(texts.get(text) ?? []), m]);
  return texts;
}

function counterWords(m: FoundMessage): string {
  if (!m.counter) return '';
  const { skip, sharedWith } = m.counter;
  const shared = sharedWith?.map((id) => formatId(id, m.extended)).join(' ');
  const parts = [
    placeWords(m.counter),
    skip.length > 0 ? `skips ${skip.join(' ')}` : '',
    shared ? `shared with ${shared}` : '',
  ];
  return parts.filter((part) => part !== '').join(', ');
}

function checkWords(c: FoundCheck): string {
  const hex = (n: number) => hexOf(n, c.width);
  const how =
    c.algorithm === 'crc' ? `CRC-${c.width} ${hex(c.poly)} ${hex(c.init)} ${hex(c.xorout)}` : c.algorithm;
  return `${placeWords(c)}: ${how}${c.perCounter ? ', constant per count' : ''}`;
}

function fieldWords(m: FoundMessage): string {
  const kinds = ['number', 'enum', 'flag'] as const;
  return kinds
    .map((kind) => ({ kind, n: m.signals.filter((s) => s.kind === kind).length }))
    .filter(({ n }) => n > 0)
    .map(({ kind, n }) => `${n} ${kind}${n > 1 ? 's' : ''}`)
    .join(', ');
}
