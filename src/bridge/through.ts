/** A capture played through the gateway: what it would have sent, had it been there. */

import { FLAG } from '../can/frame.ts';
import { type Capture, CaptureBuilder } from '../capture/store.ts';
import type { Gateway } from './gateway.ts';
import { BridgeError } from './problem.ts';
import { GatewayRun } from './runGateway.ts';

/** A stretch of time in which a pin is active, seconds on the capture's own clock. */
export interface PinCue {
  pin: string;
  startS: number;
  endS: number;
}

export interface ThroughOptions {
  /** Pins are inactive outside these stretches. */
  pins?: readonly PinCue[];
  /** Reading of the millisecond clock at the first step. */
  clockStartMs?: number;
  /** Called now and then with the share done, 0 … 1. */
  progress?: (share: number) => void;
  signal?: AbortSignal;
  /** Called after every step with its time in seconds and the run, for those who want to look inside. */
  watch?: (timeS: number, run: GatewayRun) => void;
}

/** Longest stretch that is played: a day; a capture that claims more holds a wrong time stamp. */
const LONGEST_S = 86_400;

/**
 * Steps the gateway every `stepMs` over the capture's time and gives it each frame before the step that follows it.
 * The result holds what the gateway sends, each frame stamped with its step and marked as sent. Frames that the
 * recorder itself sent (`FLAG.sent`) are heard like any others. Time stamps that go back count at the time reached.
 * Throws `BridgeError` for a pin that the gateway does not have and for a capture longer than a day; the reason of
 * `signal` when it aborts.
 */
export function through(gateway: Gateway, capture: Capture, options: ThroughOptions = {}): Capture {
  const run = new GatewayRun(gateway);
  const cues = pinCues(gateway, options.pins ?? []);
  const pins = new Uint8Array(gateway.pins.length);
  const sent = new CaptureBuilder();
  sent.originNs = capture.originNs;
  if (capture.count === 0) return sent.finish();
  const startS = capture.time[0] as number;
  const endS = capture.time.reduce((last, t) => Math.max(last, t), startS);
  if (!(endS - startS <= LONGEST_S))
    throw new BridgeError(
      `the capture spans ${Math.round(endS - startS)} s; at most ${LONGEST_S} s can be played through the gateway`,
    );
  const steps = Math.floor(((endS - startS) * 1000) / gateway.stepMs) + 1;
  const clockStart = options.clockStartMs ?? 0;
  const { time, bus, id, flags, payload, offset, length } = capture;
  let frame = 0;
  for (let k = 1; k <= steps; k++) {
    const now = startS + (k * gateway.stepMs) / 1000;
    for (; frame < capture.count && (time[frame] as number) < now; frame++) {
      run.receive(
        bus[frame] as number,
        id[frame] as number,
        flags[frame] as number,
        payload,
        offset[frame] as number,
        length[frame] as number,
      );
    }
    for (let p = 0; p < pins.length; p++) pins[p] = 0;
    for (const cue of cues) if (now >= cue.startS && now < cue.endS) pins[cue.pin] = 1;
    run.step((clockStart + k * gateway.stepMs) % 2 ** 32, pins);
    collect(gateway, run, now, sent);
    options.watch?.(now, run);
    if ((k & 4095) === 0) {
      options.signal?.throwIfAborted();
      options.progress?.(k / steps);
    }
  }
  options.progress?.(1);
  return sent.finish();
}

function collect(gateway: Gateway, run: GatewayRun, now: number, sent: CaptureBuilder): void {
  const { count, message, offset, payload } = run.sent;
  for (let i = 0; i < count; i++) {
    const tx = gateway.tx[message[i] as number]!;
    const flags = FLAG.sent | (tx.extended ? FLAG.extended : 0) | (tx.length > 8 ? FLAG.fd : 0);
    sent.add(now, tx.bus, tx.id, flags, tx.length, payload, offset[i] as number, tx.length);
  }
}

function pinCues(gateway: Gateway, cues: readonly PinCue[]): { pin: number; startS: number; endS: number }[] {
  return cues.map(({ pin, startS, endS }) => {
    const index = gateway.pins.findIndex((p) => p.original === pin);
    if (index < 0) {
      const names = gateway.pins.map((p) => p.original).join(', ') || 'none';
      throw new BridgeError(`pin "${pin}" is not one of the gateway's; it has ${names}`);
    }
    return { pin: index, startS, endS };
  });
}
