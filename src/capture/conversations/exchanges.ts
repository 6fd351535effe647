/** Pairs diagnostic requests with their answers by identifier and service (ISO 14229, SAE J1979). */

import { diagnosticHead, wantsNoAnswer } from '../../can/diagnostics.ts';
import type { Capture } from '../store.ts';
import { type IsoTpPair, PeerBook, type Peering } from './peers.ts';
import { TRANSFER_KINDS, type Transfers } from './transfers.ts';

/**
 * How an exchange ended; its place is the code in `Exchanges.outcome`. `pending`: only "answer pending" came; `quiet`: no
 * answer, as the request asked; `unasked`: an answer whose request is not in the recording.
 */
export const OUTCOMES = ['answered', 'refused', 'pending', 'silent', 'quiet', 'unasked'] as const;
export type Outcome = (typeof OUTCOMES)[number];

/** Requests with their answers, in the order in which the requests ended. A request to all units has one row per answer. */
export interface Exchanges {
  readonly count: number;
  /** Places in `Transfers`, −1 where there is none. */
  readonly request: Int32Array;
  readonly answer: Int32Array;
  readonly service: Uint8Array;
  /** Place in `OUTCOMES`. */
  readonly outcome: Uint8Array;
  /** Negative code of a refusal, else 0. */
  readonly refusal: Uint8Array;
  /** Times that the unit said "answer pending" before. */
  readonly pendings: Uint16Array;
  /** From the end of the request to the start of the answer in seconds; NaN where one of them is missing. */
  readonly delayS: Float64Array;
}

/** Longest wait for an answer: P2* of ISO 14229 (from memory), counted anew after each "answer pending". */
const WAIT_S = 5;

export function exchangesOf(capture: Capture, transfers: Transfers, pairs: readonly IsoTpPair[]): Exchanges {
  const peers = new PeerBook(pairs);
  const sides = new Map<number, Side>();
  const rows: Row[] = [];
  const waiting: Row[] = [];
  const isoTp = TRANSFER_KINDS.indexOf('isoTp');
  for (let k = 0; k < transfers.count; k++) {
    if (transfers.kind[k] !== isoTp) continue;
    const head = diagnosticHead(
      transfers.bytes,
      transfers.offset[k] as number,
      transfers.length[k] as number,
    );
    if (!head) continue;
    const startS = capture.time[transfers.firstFrame[k] as number] as number;
    const endS = capture.time[transfers.lastFrame[k] as number] as number;
    for (let w = waiting.length - 1; w >= 0; w--) {
      if (startS - (waiting[w] as Row).sinceS > WAIT_S) waiting.splice(w, 1);
    }
    if (head.kind === 'request') {
      const from = transfers.offset[k] as number;
      const quiet = wantsNoAnswer(transfers.bytes, from, transfers.length[k] as number);
      const row = rowOf(
        k,
        head.service,
        endS,
        quiet ? 'quiet' : 'silent',
        sideOf(transfers, k, peers, sides),
      );
      // A tester asks one unit one thing at a time: what it asked before will not be answered any more.
      const old = waiting.findIndex((r) => r.side === row.side);
      if (old >= 0) waiting.splice(old, 1);
      rows.push(row);
      waiting.push(row);
      continue;
    }
    const side = sideOf(transfers, k, peers, sides);
    const at = waiting.findLastIndex((r) => r.service === head.service && answers(r.side, side));
    let row = waiting[at];
    if (!row) {
      row = rowOf(-1, head.service, Number.NaN, 'unasked', side);
      row.answer = k;
      if (head.kind === 'refusal') row.refusal = head.code;
      rows.push(row);
      continue;
    }
    if (head.kind === 'refusal' && head.pending) {
      row.pendings++;
      row.outcome = 'pending';
      row.sinceS = endS;
      continue;
    }
    // Any number of units may answer a request to all: each gets a row of its own. One unit answers once.
    if (!row.side.functional) waiting.splice(at, 1);
    else if (row.answer >= 0) {
      row = rowOf(row.request, row.service, row.endS, 'silent', row.side);
      rows.push(row);
    }
    row.answer = k;
    row.delayS = startS - row.endS;
    row.outcome = head.kind === 'refusal' ? 'refused' : 'answered';
    if (head.kind === 'refusal') row.refusal = head.code;
  }
  return columns(rows);
}

interface Side extends Peering {
  bus: number;
  idKey: number;
}

interface Row {
  request: number;
  answer: number;
  service: number;
  outcome: Outcome;
  refusal: number;
  pendings: number;
  delayS: number;
  endS: number;
  /** Waiting since. */
  sinceS: number;
  side: Side;
}

function rowOf(request: number, service: number, endS: number, outcome: Outcome, side: Side): Row {
  return {
    request,
    answer: -1,
    service,
    outcome,
    refusal: 0,
    pendings: 0,
    delayS: Number.NaN,
    endS,
    sinceS: endS,
    side,
  };
}

/** The side that sent transfer `k`; one object for each, kept in `sides`. */
function sideOf(transfers: Transfers, k: number, peers: PeerBook, sides: Map<number, Side>): Side {
  const key = transfers.idKey[k] as number;
  const bus = transfers.bus[k] as number;
  const address = transfers.address[k] as number;
  const place = (bus * 2 ** 32 + key) * 512 + address + 1;
  const kept = sides.get(place);
  if (kept) return kept;
  const side = { bus, idKey: key, ...peers.of(key) };
  sides.set(place, side);
  return side;
}

/** Whether a message from `to` can answer one from `from`. */
function answers(from: Side, to: Side): boolean {
  if (from.bus !== to.bus || from.idKey === to.idKey) return false;
  if (from.functional) return !to.functional && to.idKey >= 0x8000_0000 === from.idKey >= 0x8000_0000;
  return from.peers.length > 0 ? from.peers.includes(to.idKey) : to.peers.length === 0;
}

function columns(rows: readonly Row[]): Exchanges {
  return {
    count: rows.length,
    request: Int32Array.from(rows, (row) => row.request),
    answer: Int32Array.from(rows, (row) => row.answer),
    service: Uint8Array.from(rows, (row) => row.service),
    outcome: Uint8Array.from(rows, (row) => OUTCOMES.indexOf(row.outcome)),
    refusal: Uint8Array.from(rows, (row) => row.refusal),
    pendings: Uint16Array.from(rows, (row) => row.pendings),
    delayS: Float64Array.from(rows, (row) => row.delayS),
  };
}
