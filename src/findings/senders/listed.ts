/** A message as it is listed, with the reason where it cannot be placed. */
import { formatId } from '../../can/frame.ts';
import { several } from '../words.ts';
import { EVENTS_NEEDED } from './clock.ts';
import type { ClockOrNot, PairsOfRecording } from './evidence.ts';
import type { Follow } from './follows.ts';
import type { NotPlaced, SenderMessage } from './model.ts';
import type { MessageKey, Recording } from './recordings.ts';

export function listedMessage(
  message: MessageKey,
  i: number,
  recordings: readonly Recording[],
  parts: readonly PairsOfRecording[],
  follows: readonly Follow[],
  all: readonly MessageKey[],
): SenderMessage {
  const frames = recordings.reduce((sum, r) => sum + (r.times[i] as Float64Array).length, 0);
  const clocks = parts.map(({ clocks }) => clocks[i] as ClockOrNot);
  const clock = clocks.find((c) => typeof c !== 'string');
  const listed: SenderMessage = {
    ...message,
    frames,
    periodMs: clock === undefined || typeof clock === 'string' ? null : 1000 * clock.fittedS,
    notPlaced: null,
    reason: null,
  };
  const caller = follows.find((f) => f.effect === i && f.copiesPace);
  if (clock === undefined) setAside(listed, clocks.includes('notRegular') ? 'notRegular' : 'tooFew');
  else if (caller !== undefined) {
    const { id, extended } = all[caller.cause] as MessageKey;
    setAside(listed, 'answers', formatId(id, extended), caller);
  }
  return listed;
}

export function setAside(message: SenderMessage, why: NotPlaced, caller = '', follow?: Follow): void {
  message.notPlaced = why;
  message.reason = {
    tooFew: `Not enough to tell: ${several(message.frames, 'frame')}, and no clock shows in fewer than ${EVENTS_NEEDED}; record for longer.`,
    notRegular:
      'Not enough to tell: it is not sent at a regular pace, so its stamps follow events rather than a clock.',
    answers: `It comes after ${caller}, by ${ms(follow?.delayS)} ± ${ms(follow?.jitterS)} ms, and takes its pace from it: its stamps show the clock of ${caller}, not of its own sender.`,
    nothingEitherWay:
      'Not enough to tell: its period has no common beat with another message, and it shares no silence; switch the ignition off and on while recording.',
  }[why];
}

function ms(seconds = 0): string {
  return (1000 * seconds).toFixed(1);
}
