/** A health report as text: buses, what is wrong, then the census of messages. */
import { formatId } from '../can/frame.ts';
import type { BusGap, Health, MessageHealth } from '../capture/health.ts';
import { grouped, printLine, printTable } from './print.ts';

export function healthTable(health: Health): void {
  printLine(`${grouped(health.frames)} frames in ${health.seconds.toFixed(1)} s`);
  if (health.frames === 0) return;
  printLine();
  printTable(
    ['bus', 'frames', 'bits', 'mean load', 'greatest', 'error messages', 'remote', 'gaps'],
    health.buses.map((b) => [
      String(b.bus),
      grouped(b.frames),
      grouped(b.bits),
      percent(b.load.mean),
      percent(b.load.greatest),
      grouped(b.errorFrames),
      grouped(b.remoteFrames),
      String(b.gaps.length),
    ]),
  );
  const remarks = remarksOf(health);
  if (remarks.length > 0) {
    printLine('\nTo look at:');
    for (const remark of remarks) printLine(`  ${remark}`);
  }
  printLine('\nMessages:');
  printTable(
    [
      'bus',
      'id',
      'frames',
      'period ms',
      'jitter ms',
      'gap ms least',
      'greatest',
      'lost',
      'told by',
      'repeated',
    ],
    health.messages.map((m) => [
      String(m.bus),
      formatId(m.id, m.extended),
      grouped(m.frames),
      shown(m.periodMs, 2),
      shown(m.jitterMs, 3),
      shown(m.leastGapMs, 3),
      shown(m.greatestGapMs, 1),
      m.lost ? grouped(m.lost.frames) : '–',
      m.lost?.by ?? '',
      shown(m.repeated, 0),
    ]),
  );
  printLine('\nLost frames are estimates: by the counter of a message, or by gaps in a steady rhythm.');
}

function remarksOf(health: Health): string[] {
  const remarks: string[] = [];
  for (const b of health.buses) {
    if (b.load.share === null) remarks.push(`bus ${b.bus}: its load needs a bit rate (--bit-rate)`);
    if ((b.load.greatest ?? 0) > 1) {
      remarks.push(
        `bus ${b.bus}: ${percent(b.load.greatest)} load cannot be; the bit rate is too low or the stamps are wrong`,
      );
    }
    if (b.errorFrames > 0) {
      const kinds = b.errorClasses.map((c) => `${c.name} ${grouped(c.count)}`).join(', ');
      remarks.push(
        `bus ${b.bus}: ${grouped(b.errorFrames)} error messages of the controller${kinds ? `: ${kinds}` : ''}`,
      );
    }
    for (const gap of b.gaps.slice(0, MOST)) remarks.push(`bus ${b.bus}: ${gapWords(gap)}`);
    if (b.gaps.length > MOST) remarks.push(`bus ${b.bus}: ${b.gaps.length - MOST} more gaps (--json)`);
  }
  const { back, backCount, outOfOrder } = health.clock;
  for (const step of back.slice(0, MOST)) {
    remarks.push(`bus ${step.bus}: the clock went back by ${step.byS.toFixed(6)} s at frame ${step.frame}`);
  }
  if (backCount > MOST)
    remarks.push(`the clock went back ${grouped(backCount - Math.min(MOST, back.length))} more times`);
  if (outOfOrder > 0)
    remarks.push(`${grouped(outOfOrder)} frames are out of order between buses, as recorders leave them`);
  for (const m of health.messages) if (m.senders) remarks.push(senderWords(m));
  return remarks;
}

const MOST = 5;

function gapWords({ fromS, toS, told }: BusGap): string {
  const where = `silent for ${(toS - fromS).toFixed(3)} s from ${fromS.toFixed(3)} s on`;
  if (told === 'clock') return `${where}; counters went on by one: the clock jumped, or all units paused`;
  if (told === 'lost') return `${where}; counters went on: the bus was alive and the recorder missed it`;
  return `${where}; no counter tells why`;
}

function senderWords(m: MessageHealth): string {
  const { sign, fromS, toS, share } = m.senders as NonNullable<MessageHealth['senders']>;
  const how =
    sign === 'counters' ? 'two counters run through each other' : 'two rhythms run through each other';
  return `bus ${m.bus} ${formatId(m.id, m.extended)}: ${how} from ${fromS.toFixed(1)} s to ${toS.toFixed(1)} s (${percent(share)} of its frames): two units may send it`;
}

function percent(share: number | null): string {
  return share === null ? '–' : `${(100 * share).toFixed(1)} %`;
}

function shown(value: number | null, digits: number): string {
  return value === null ? '–' : value.toFixed(digits);
}
