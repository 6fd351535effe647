/** Conversations as the form `talks/1` (docs/forms.md), which `bywright talks --json` prints. */
import { refusalName, serviceName } from '../can/diagnostics.ts';
import { formatId, MAX_EXTENDED_ID } from '../can/frame.ts';
import { j1939Parts } from '../can/j1939.ts';
import { type ObdValue, obdAnswerValues } from '../can/obd.ts';
import { faultWords, HARMLESS } from '../can/transport/sink.ts';
import { type Conversations, type GroupRequest, OUTCOMES, TRANSFER_KINDS } from '../capture/conversations.ts';
import type { Capture } from '../capture/store.ts';

export function talksForm(capture: Capture, heard: Conversations): object {
  const { transfers, exchanges, faults, faultCount } = heard;
  return {
    form: 'talks/1',
    transfers: firstOf(transfers.count, Number.POSITIVE_INFINITY, (k) => {
      const key = transfers.idKey[k] as number;
      const group = transfers.group[k] as number;
      const parts = group < 0 ? null : j1939Parts(key & MAX_EXTENDED_ID);
      return {
        kind: TRANSFER_KINDS[transfers.kind[k] as number],
        bus: transfers.bus[k],
        id: idOf(key),
        ext: key >= 0x8000_0000 ? 1 : 0,
        address: (transfers.address[k] as number) < 0 ? null : transfers.address[k],
        group: group < 0 ? null : group,
        source: parts?.source ?? null,
        destination: parts?.destination ?? null,
        start: seconds(capture, transfers.firstFrame[k] as number),
        end: seconds(capture, transfers.lastFrame[k] as number),
        frames: transfers.frames[k],
        data: bytesHex(heard, k),
      };
    }),
    exchanges: firstOf(exchanges.count, Number.POSITIVE_INFINITY, (k) => exchangeForm(capture, heard, k)),
    groupRequests: heard.groupRequests.map((request) => groupRequestForm(capture, heard, request)),
    faults: faults.map((f) => ({
      reason: f.reason,
      kept: HARMLESS.has(f.reason),
      kind: f.kind,
      bus: f.bus,
      id: idOf(f.idKey),
      frame: f.frame,
      t: f.frame < 0 ? null : seconds(capture, f.frame),
      text: faultWords(f.reason, f.found, f.due),
    })),
    faultCount,
  };
}

/** One exchange, as the table and the form show it. */
export function exchangeForm(capture: Capture, heard: Conversations, k: number) {
  const { transfers, exchanges } = heard;
  const request = exchanges.request[k] as number;
  const answer = exchanges.answer[k] as number;
  const service = exchanges.service[k] as number;
  const any = request >= 0 ? request : answer;
  const delay = exchanges.delayS[k] as number;
  const refusal = exchanges.refusal[k] as number;
  const idAt = (at: number) => (at < 0 ? '' : idOf(transfers.idKey[at] as number));
  return {
    t: seconds(capture, transfers.firstFrame[any] as number),
    bus: transfers.bus[any] as number,
    from: idAt(request),
    to: idAt(answer),
    service: service.toString(16).toUpperCase().padStart(2, '0'),
    serviceName: serviceName(service),
    outcome: OUTCOMES[exchanges.outcome[k] as number] as (typeof OUTCOMES)[number],
    refusal: refusal === 0 ? null : refusal.toString(16).toUpperCase().padStart(2, '0'),
    refusalName: refusal === 0 ? null : refusalName(refusal),
    pendings: exchanges.pendings[k] as number,
    delayMs: Number.isNaN(delay) ? null : Number((delay * 1000).toFixed(3)),
    request: request < 0 ? null : request,
    answer: answer < 0 ? null : answer,
    asked: request < 0 ? '' : bytesHex(heard, request),
    said: answer < 0 ? '' : bytesHex(heard, answer),
    values:
      answer < 0
        ? []
        : valuesOf(heard, answer).map(({ kind, value }) => ({ name: kind.name, value, unit: kind.unit })),
  };
}

/** One request for a parameter group, as the table and the form show it. */
export function groupRequestForm(capture: Capture, heard: Conversations, request: GroupRequest) {
  const { frame, bus, group, from, to, outcome, by, answer, transfer, delayS, alsoUnasked } = request;
  return {
    t: seconds(capture, frame),
    bus,
    group,
    from,
    to,
    outcome,
    by: by < 0 ? null : by,
    delayMs: Number.isNaN(delayS) ? null : Number((delayS * 1000).toFixed(3)),
    alsoUnasked,
    frame,
    answer: answer < 0 ? null : answer,
    transfer: transfer < 0 ? null : transfer,
    said: transfer >= 0 ? bytesHex(heard, transfer) : answer >= 0 ? payloadHex(capture, answer) : '',
  };
}

function payloadHex(capture: Capture, frame: number): string {
  const from = capture.offset[frame] as number;
  return hex(capture.payload.subarray(from, from + (capture.length[frame] as number)));
}

function valuesOf({ transfers }: Conversations, k: number): ObdValue[] {
  const from = transfers.offset[k] as number;
  return obdAnswerValues(transfers.bytes.subarray(from, from + (transfers.length[k] as number)));
}

function bytesHex({ transfers }: Conversations, k: number): string {
  const from = transfers.offset[k] as number;
  return hex(transfers.bytes.subarray(from, from + (transfers.length[k] as number)));
}

function hex(bytes: Uint8Array): string {
  let text = '';
  for (const byte of bytes) text += byte.toString(16).toUpperCase().padStart(2, '0');
  return text;
}

/** An identifier from its `idKey`. */
export function idOf(key: number): string {
  return formatId(key & MAX_EXTENDED_ID, key >= 0x8000_0000);
}

function seconds(capture: Capture, frame: number): number {
  return Number((capture.time[frame] as number).toFixed(6));
}

/** The first `most` of `count` things. */
export function firstOf<T>(count: number, most: number, make: (k: number) => T): T[] {
  return Array.from({ length: Math.min(count, most) }, (_, k) => make(k));
}
