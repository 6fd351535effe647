/** What every writer asks of a capture before the first byte: frames that are frames, so that what is written can be read. */
import { FLAG, isPayloadLength, MAX_BASE_ID, MAX_EXTENDED_ID } from '../can/frame.ts';
import { CaptureError } from './error.ts';
import type { Capture } from './store.ts';

/** @throws CaptureError naming the first frame that no reader would take, and why */
export function checkFrames({ count, flags, id, length, time }: Capture): void {
  for (let i = 0; i < count; i++) {
    const flag = flags[i] as number;
    const fd = (flag & FLAG.fd) !== 0;
    const size = length[i] as number;
    if (!isPayloadLength(size, fd)) {
      throw new CaptureError(
        `Frame ${i} has ${size} bytes of payload: a ${fd ? 'FD' : 'classical'} frame has ${fd ? '0 to 8, 12, 16, 20, 24, 32, 48 or 64' : 'at most 8'}.`,
      );
    }
    // In an error message the identifier holds classes of error instead.
    const most = (flag & (FLAG.extended | FLAG.error)) !== 0 ? MAX_EXTENDED_ID : MAX_BASE_ID;
    if ((id[i] as number) > most) {
      throw new CaptureError(
        `Frame ${i} has the identifier ${hex(id[i] as number)}: the greatest of ${most === MAX_BASE_ID ? '11' : '29'} bits is ${hex(most)}.`,
      );
    }
    if (!fd && (flag & (FLAG.bitRateSwitch | FLAG.errorState)) !== 0) {
      throw new CaptureError(
        `Frame ${i} is no FD frame and has a bit-rate switch or an error state: only FD frames have them.`,
      );
    }
    if (!Number.isFinite(time[i])) throw new CaptureError(`Frame ${i} has no time.`);
  }
}

function hex(id: number): string {
  return id.toString(16).toUpperCase();
}
