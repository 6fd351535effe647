/** Whether the check fields of a capture hold what the dictionary says they should. */
import { checkBytesNeeded, checkFunction } from '../can/check.ts';
import type { Capture } from '../capture/store.ts';
import { bytesNeeded, fieldReader } from './bits.ts';
import type { Message } from './model.ts';

export interface CheckReport {
  /** Frames long enough to be judged. */
  frames: number;
  agree: number;
  /** Frames too short to hold the check, its covered bytes or its counter. */
  tooShort: number;
  /** Capture index of the first frame that does not agree, −1 where all do. */
  firstWrong: number;
}

/** Verifies the check field of a message over frames of it, given as capture indices; null where it has none. */
export function verifyCheck(capture: Capture, frames: Uint32Array, message: Message): CheckReport | null {
  const { check, counter } = message;
  if (!check) return null;
  const { id, length, offset, payload } = capture;
  const needed = Math.max(checkBytesNeeded(check), counter ? bytesNeeded(counter) : 0);
  const expected = checkFunction(check);
  const readCheck = fieldReader({ ...check, signed: false });
  const readCounter = counter && fieldReader({ ...counter, signed: false });
  const report: CheckReport = { frames: 0, agree: 0, tooShort: 0, firstWrong: -1 };
  for (const i of frames) {
    const bytes = length[i] as number;
    if (bytes < needed) {
      report.tooShort++;
      continue;
    }
    const from = offset[i] as number;
    const count = readCounter?.(payload, from);
    report.frames++;
    if (readCheck(payload, from) === expected(id[i] as number, payload, from, bytes, count)) {
      report.agree++;
    } else if (report.firstWrong < 0) report.firstWrong = i;
  }
  return report;
}
