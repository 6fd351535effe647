/** Conversations as text: who sends what, then requests with their answers, then what did not come whole. */
import { faultWords, HARMLESS } from '../can/transport/sink.ts';
import { type Conversations, TRANSFER_KINDS, type TransferFault } from '../capture/conversations.ts';
import type { Capture } from '../capture/store.ts';
import { grouped, printLine, printTable } from './print.ts';
import { exchangeForm, firstOf, groupRequestForm, idOf } from './talksForm.ts';

export function talksTable(capture: Capture, heard: Conversations, most: number): void {
  const { transfers, exchanges, groupRequests, faults, faultCount } = heard;
  if (transfers.count === 0 && faultCount === 0) {
    printLine('Nothing in this recording was sent in several frames, and no diagnostic request was seen.');
  } else {
    printTable(
      ['bus', 'sender', 'kind', 'group', 'transfers', 'frames', 'bytes least', 'greatest', 'faults'],
      senders(heard),
    );
  }
  if (exchanges.count > 0) {
    printLine('\nRequests and answers:');
    const rows = firstOf(exchanges.count, most, (k) => exchangeForm(capture, heard, k));
    printTable(
      ['at s', 'bus', 'from', 'to', 'asked', 'outcome', 'after ms', 'said'],
      rows.map((r) => [
        r.t.toFixed(3),
        String(r.bus),
        r.from,
        r.to,
        r.serviceName,
        r.outcome === 'refused' ? `refused: ${r.refusalName}` : r.outcome,
        r.delayMs === null ? '–' : r.delayMs.toFixed(1),
        r.values.length > 0
          ? r.values.map((v) => `${v.name} ${trimmed(v.value)} ${v.unit}`).join(', ')
          : shortHex(r.said),
      ]),
    );
    more(exchanges.count, most, 'exchanges');
  }
  if (groupRequests.length > 0) {
    printLine('\nRequests for groups:');
    const rows = groupRequests.slice(0, most).map((request) => groupRequestForm(capture, heard, request));
    printTable(
      ['at s', 'bus', 'from', 'to', 'group', 'outcome', 'by', 'after ms', 'said'],
      rows.map((r) => [
        r.t.toFixed(3),
        String(r.bus),
        String(r.from),
        r.to === 255 ? 'all' : String(r.to),
        String(r.group),
        `${REQUEST_WORDS[r.outcome] ?? r.outcome}${r.alsoUnasked ? ', sent unasked too' : ''}`,
        r.by === null ? '–' : String(r.by),
        r.delayMs === null ? '–' : r.delayMs.toFixed(1),
        shortHex(r.said),
      ]),
    );
    more(groupRequests.length, most, 'requests');
  }
  if (faultCount > 0) {
    printLine('\nNot whole, or against the rules:');
    for (const fault of faults.slice(0, most)) printLine(`  ${faultSentence(capture, fault)}`);
    more(faultCount, Math.min(most, faults.length), 'faults');
  }
}

function senders({ transfers, faults }: Conversations): string[][] {
  const rows = new Map<
    string,
    { head: string[]; n: number; frames: number; least: number; greatest: number; bad: number }
  >();
  const rowOf = (bus: number, key: number, kind: string, group: number) => {
    const name = `${bus} ${key} ${kind} ${group}`;
    const head = [String(bus), idOf(key), KIND_WORDS[kind] ?? kind, group < 0 ? '' : String(group)];
    const row = rows.get(name) ?? {
      head,
      n: 0,
      frames: 0,
      least: Number.POSITIVE_INFINITY,
      greatest: 0,
      bad: 0,
    };
    rows.set(name, row);
    return row;
  };
  for (let k = 0; k < transfers.count; k++) {
    const row = rowOf(
      transfers.bus[k] as number,
      transfers.idKey[k] as number,
      TRANSFER_KINDS[transfers.kind[k] as number] as string,
      transfers.group[k] as number,
    );
    const length = transfers.length[k] as number;
    row.n++;
    row.frames += transfers.frames[k] as number;
    row.least = Math.min(row.least, length);
    row.greatest = Math.max(row.greatest, length);
  }
  for (const f of faults) rowOf(f.bus, f.idKey, f.kind, f.group).bad++;
  return [...rows.values()].map(({ head, n, frames, least, greatest, bad }) => [
    ...head,
    grouped(n),
    grouped(frames),
    n === 0 ? '–' : String(least),
    n === 0 ? '–' : String(greatest),
    String(bad),
  ]);
}

const KIND_WORDS: Record<string, string> = {
  isoTp: 'ISO 15765-2',
  broadcast: 'J1939 to all',
  toUnit: 'J1939 to one',
  extended: 'J1939 extended',
  fastPacket: 'NMEA 2000 fast packet',
};

const REQUEST_WORDS: Record<string, string> = {
  denied: 'access denied',
  busy: 'cannot answer now',
  cutOff: 'recording ends',
};

function faultSentence(capture: Capture, f: TransferFault): string {
  const when =
    f.frame < 0
      ? 'end of the recording'
      : `${(capture.time[f.frame] as number).toFixed(3)} s, frame ${f.frame}`;
  const kept = HARMLESS.has(f.reason) ? ' (kept)' : '';
  return `bus ${f.bus} ${idOf(f.idKey)}, ${when}: ${faultWords(f.reason, f.found, f.due)}${kept}`;
}

function shortHex(text: string): string {
  return text.length > 24 ? `${text.slice(0, 24)}… ${text.length / 2} bytes` : text;
}

function trimmed(value: number): string {
  return String(Number(value.toFixed(2)));
}

function more(count: number, shown: number, what: string): void {
  if (count > shown) printLine(`… and ${grouped(count - shown)} more ${what} (--all, or --json)`);
}
