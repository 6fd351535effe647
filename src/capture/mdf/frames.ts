/** Records to frames: each record of a CAN group becomes one frame of the capture, or is counted as skipped. */
import { FLAG, isPayloadLength } from '../../can/frame.ts';
import { u32 } from '../bytes.ts';
import type { CaptureBuilder } from '../store.ts';
import type { FrameLayout } from './busLogging.ts';
import { errorMessageOf } from './errorKinds.ts';
import { type FastLayout, fastLayoutOf, takeFast } from './fastFrames.ts';
import { type Field, read } from './fields.ts';
import type { SkipLog } from './skipped.ts';

export class FrameTaker {
  /** Records taken so far. */
  records = 0;
  /** Place of each frame in the recording, where the file holds it. */
  order: Uint32Array | null;
  readonly layout: FrameLayout;
  readonly #into: CaptureBuilder;
  readonly #values: Uint8Array | null;
  readonly #skipped: SkipLog;
  readonly #fast: FastLayout | null;
  readonly #message = new Uint8Array(8);

  /** `values`: u32 length and bytes, at the offsets that records hold; null where the payload stands in the records. */
  constructor(layout: FrameLayout, into: CaptureBuilder, values: Uint8Array | null, skipped: SkipLog) {
    this.#skipped = skipped;
    this.layout = layout;
    this.#into = into;
    this.#values = values;
    this.order = layout.order ? new Uint32Array(64) : null;
    this.#fast = fastLayoutOf(layout);
  }

  /** Takes `count` records of `stride` bytes from `bytes[p …)`. */
  takeRun(bytes: Uint8Array, p: number, stride: number, count: number): void {
    for (let done = 0; done < count; ) {
      if (this.#fast !== null) {
        // Stops at each record that is not a plain one; that goes the general way.
        const taken = takeFast(this.#into, this.#fast, bytes, p + done * stride, stride, count - done);
        this.records += taken;
        done += taken;
        if (done === count) return;
      }
      this.#one(bytes, p + done * stride);
      this.records++;
      done++;
    }
  }

  #one(bytes: Uint8Array, p: number): void {
    const layout = this.layout;
    for (const { byte, mask } of layout.invalid) {
      if (((bytes[p + byte] as number) & mask) !== 0) {
        this.#skipped.skip(layout.kind, 'invalid');
        return;
      }
    }
    const { multiply, divide, offset } = layout.linear;
    const raw = layout.time ? read(bytes, p, layout.time) : this.records;
    const time = (raw * multiply) / divide + offset;
    if (!Number.isFinite(time)) {
      this.#skipped.skip(layout.kind, 'time');
      return;
    }
    let id = numberAt(bytes, p, layout.id);
    let flags = numberAt(bytes, p, layout.dir) === 1 ? FLAG.sent : 0;
    if (layout.ide ? numberAt(bytes, p, layout.ide) !== 0 : id > 0x7ff) flags |= FLAG.extended;
    if (numberAt(bytes, p, layout.edl) !== 0) flags |= FLAG.fd;
    if (numberAt(bytes, p, layout.brs) !== 0) flags |= FLAG.bitRateSwitch;
    if (numberAt(bytes, p, layout.esi) !== 0) flags |= FLAG.errorState;
    id = (flags & FLAG.extended ? id & 0x1fff_ffff : id & 0x7ff) >>> 0;
    const bus = layout.bus ? numberAt(bytes, p, layout.bus) & 0xff : layout.onlyBus;
    if (layout.kind === 'remote') {
      const asked = layout.dlc
        ? lengthOf(numberAt(bytes, p, layout.dlc), (flags & FLAG.fd) !== 0)
        : numberAt(bytes, p, layout.dataLength);
      this.#add(bytes, p, time, bus, id, flags | FLAG.remote, asked, bytes, 0);
      return;
    }
    if (layout.kind === 'error' && !layout.errorClass) {
      const word = errorMessageOf(numberAt(bytes, p, layout.errorType), this.#message);
      this.#add(bytes, p, time, bus, word, (flags & FLAG.sent) | FLAG.error, 8, this.#message, 0);
      return;
    }
    if (layout.kind === 'error') {
      const word = numberAt(bytes, p, layout.errorClass);
      id = word & 0x1fff_ffff;
      flags |= FLAG.error | (word & REMOTE_BIT ? FLAG.remote : 0);
    }
    const fd = (flags & FLAG.fd) !== 0;
    const { payload } = layout;
    if (payload.kind === 'values') {
      const at = read(bytes, p, payload.offset);
      const values = this.#values;
      const length = values && at + 4 <= values.length ? u32(values, at, 'little') : -1;
      if (!values || length < 0 || at + 4 + length > values.length)
        this.#skipped.skip(layout.kind, 'noValue');
      else this.#add(bytes, p, time, bus, id, flags, length, values, at + 4);
      return;
    }
    const length = layout.dataLength
      ? numberAt(bytes, p, layout.dataLength)
      : lengthOf(numberAt(bytes, p, layout.dlc), fd);
    const room = payload.kind === 'inRecord' ? payload.room : 0;
    if (length > room && (flags & FLAG.remote) === 0) this.#skipped.skip(layout.kind, 'length');
    else
      this.#add(
        bytes,
        p,
        time,
        bus,
        id,
        flags,
        length,
        bytes,
        payload.kind === 'inRecord' ? p + payload.byte : 0,
      );
  }

  #add(
    bytes: Uint8Array,
    p: number,
    time: number,
    bus: number,
    id: number,
    flags: number,
    length: number,
    source: Uint8Array,
    from: number,
  ): void {
    if (!isPayloadLength(length, (flags & FLAG.fd) !== 0)) {
      this.#skipped.skip(this.layout.kind, 'length');
      return;
    }
    const at = this.#into.count;
    this.#into.add(time, bus, id, flags, length, source, from, flags & FLAG.remote ? 0 : length);
    if (this.order === null || this.layout.order === null) return;
    if (at >= this.order.length) {
      const bigger = new Uint32Array(at * 2);
      bigger.set(this.order);
      this.order = bigger;
    }
    this.order[at] = read(bytes, p, this.layout.order);
  }
}

/** Bit 30 of a SocketCAN identifier word: a remote frame. */
const REMOTE_BIT = 0x4000_0000;

/** The number, or 0 where the layout has no such field. */
function numberAt(bytes: Uint8Array, p: number, field: Field | null): number {
  return field ? read(bytes, p, field) : 0;
}

/** Payload bytes for a data length code (ISO 11898-1); classical codes from 9 on also mean 8. */
function lengthOf(dlc: number, fd: boolean): number {
  if (dlc <= 8) return dlc;
  return fd ? ([12, 16, 20, 24, 32, 48, 64][dlc - 9] ?? 255) : 8;
}
