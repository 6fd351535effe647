/**
 * Conversations of units in a capture, in one pass: messages of several frames put together (ISO 15765-2, J1939
 * transport, NMEA 2000 fast packets), faults of those that did not come whole, diagnostic requests with their
 * answers, and requests for parameter groups with theirs.
 */
import { type Exchanges, exchangesOf } from './conversations/exchanges.ts';
import { type GroupRequest, groupRequestsOf } from './conversations/groupRequests.ts';
import { FastPacketLink } from './conversations/links.ts';
import type { IsoTpPair } from './conversations/peers.ts';
import { type AnyLink, Switchboard } from './conversations/switchboard.ts';
import type { TransferFault, Transfers } from './conversations/transfers.ts';
import type { Capture } from './store.ts';

export { type Exchanges, OUTCOMES, type Outcome } from './conversations/exchanges.ts';
export type { GroupRequest, RequestOutcome } from './conversations/groupRequests.ts';
export type { IsoTpPair } from './conversations/peers.ts';
export {
  TRANSFER_KINDS,
  type TransferFault,
  type TransferKind,
  type Transfers,
} from './conversations/transfers.ts';

export interface ConversationOptions {
  /** Identifiers that talk with each other by ISO 15765-2 beside those of the standards. */
  pairs?: readonly IsoTpPair[];
  onProgress?: (share: number) => void;
  signal?: AbortSignal;
}

export interface Conversations {
  transfers: Transfers;
  exchanges: Exchanges;
  /** Requests for parameter groups of J1939 and NMEA 2000, with what came of them. */
  groupRequests: GroupRequest[];
  /** At most 100 for each sender, in order of the recording. */
  faults: TransferFault[];
  /** How many there were. */
  faultCount: number;
  /** Identifiers (bus and `idKey`) whose frames are parts of transfers. */
  carriers: { bus: number; idKey: number }[];
}

/**
 * Identifiers of diagnostics, J1939 transport and the `pairs` given always count. Other base identifiers from 700 on count
 * where a request met its answer; groups of NMEA 2000 count as fast packets where their frames fit together.
 * @throws the reason of `signal` when it is aborted.
 */
export function conversationsOf(capture: Capture, options: ConversationOptions = {}): Conversations {
  const pairs = options.pairs ?? [];
  const board = new Switchboard(capture, pairs);
  for (let i = 0; i < capture.count; i++) {
    if ((i & 0xffff) === 0) {
      options.signal?.throwIfAborted();
      options.onProgress?.(i / capture.count);
    }
    board.push(i);
  }
  board.end();
  const { links, table } = board;
  const fast = fastGroups(links);
  const fitting = links.map((link) => {
    if (link.standing === 'given') return true;
    if (link instanceof FastPacketLink) return fast.has(groupKey(link));
    return link.fitting >= MOST * link.seen;
  });
  const tried = table.only(links, (k) => fitting[k] as boolean);
  const triedExchanges = exchangesOf(capture, tried, pairs);
  const met = identifiersThatMet(tried, triedExchanges);
  const believed = links.map(
    (link, k) =>
      fitting[k] === true &&
      (link.standing === 'given' || link instanceof FastPacketLink || met.has(placeOf(link.bus, link.idKey))),
  );
  const all = believed.every((is, k) => is === fitting[k]);
  const transfers = all ? tried : table.only(links, (k) => believed[k] as boolean);
  const kept = links.filter((_, k) => believed[k]);
  const end = capture.count;
  options.onProgress?.(1);
  return {
    transfers,
    exchanges: all ? triedExchanges : exchangesOf(capture, transfers, pairs),
    groupRequests: groupRequestsOf(capture, transfers),
    faults: kept
      .flatMap((link) => link.kept)
      .sort((a, b) => (a.frame < 0 ? end : a.frame) - (b.frame < 0 ? end : b.frame)),
    faultCount: kept.reduce((sum, link) => sum + link.faults, 0),
    carriers: kept.filter((link) => link.transfers > 0).map(({ bus, idKey }) => ({ bus, idKey })),
  };
}

/** Share of frames that must fit for a guess to count. */
const MOST = 0.5;

/**
 * Groups whose frames make fast packets. Any group can look like one for a while (a rising first byte), so most frames
 * must fit, and the sequence number must move on from packet to packet as it does in a true one.
 */
function fastGroups(links: readonly AnyLink[]): Set<number> {
  const sums = new Map<
    number,
    { seen: number; fitting: number; transfers: number; moved: number; long: number }
  >();
  for (const link of links) {
    if (!(link instanceof FastPacketLink)) continue;
    const key = groupKey(link);
    const sum = sums.get(key) ?? { seen: 0, fitting: 0, transfers: 0, moved: 0, long: 0 };
    sum.seen += link.seen;
    sum.fitting += link.fitting;
    sum.transfers += link.transfers;
    sum.moved += link.moved;
    sum.long += link.long;
    sums.set(key, sum);
  }
  const fast = new Set<number>();
  for (const [key, sum] of sums) {
    if (sum.fitting >= MOST_FAST * sum.seen && sum.moved >= MOST_FAST * sum.transfers && sum.long > 0)
      fast.add(key);
  }
  return fast;
}

const MOST_FAST = 0.8;

function groupKey(link: FastPacketLink): number {
  return link.bus * 2 ** 20 + link.group();
}

function placeOf(bus: number, idKey: number): number {
  return bus * 2 ** 32 + idKey;
}

/** Identifiers of requests and answers that found each other. */
function identifiersThatMet(transfers: Transfers, exchanges: Exchanges): Set<number> {
  const met = new Set<number>();
  for (let k = 0; k < exchanges.count; k++) {
    const sides = [exchanges.request[k] as number, exchanges.answer[k] as number];
    if (sides.some((side) => side < 0)) continue;
    for (const side of sides)
      met.add(placeOf(transfers.bus[side] as number, transfers.idKey[side] as number));
  }
  return met;
}
