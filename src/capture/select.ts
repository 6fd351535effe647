/** Picks frames out of a capture: by message, by bus, identifier and time. One pass, typed arrays. */
import { FLAG, idKey } from '../can/frame.ts';
import type { Capture } from './store.ts';

/** One message of a capture and where its frames are. */
export interface MessageFrames {
  bus: number;
  id: number;
  extended: boolean;
  /** Indices into the capture, rising. */
  frames: Uint32Array;
}

/** Which frames to keep; a part that is absent keeps all. */
export interface FrameChoice {
  buses?: readonly number[];
  /** Identifiers as `idKey` gives them. */
  idKeys?: readonly number[];
  /** Seconds since the capture's origin: from ≤ time < to. */
  fromS?: number;
  toS?: number;
}

/**
 * The data frames of a capture by message, sorted by bus, then base before extended, then identifier.
 * Remote frames and error messages are left out: they carry no payload of the message.
 */
export function groupByMessage(capture: Capture): MessageFrames[] {
  const { count, id, bus, flags } = capture;
  const slots = new SlotTable();
  const slotOf = new Int32Array(count);
  for (let i = 0; i < count; i++) {
    const flag = flags[i] as number;
    slotOf[i] =
      (flag & (FLAG.remote | FLAG.error)) !== 0
        ? -1
        : slots.slot(bus[i] as number, idKey(id[i] as number, flag));
  }
  const fill = new Uint32Array(slots.count + 1);
  for (let i = 0; i < count; i++) {
    const slot = slotOf[i] as number;
    if (slot >= 0) fill[slot + 1] = (fill[slot + 1] as number) + 1;
  }
  for (let s = 1; s <= slots.count; s++) fill[s] = (fill[s] as number) + (fill[s - 1] as number);
  const starts = fill.slice();
  const order = new Uint32Array(fill[slots.count] as number);
  for (let i = 0; i < count; i++) {
    const slot = slotOf[i] as number;
    if (slot < 0) continue;
    const at = fill[slot] as number;
    order[at] = i;
    fill[slot] = at + 1;
  }
  const messages: MessageFrames[] = [];
  for (let s = 0; s < slots.count; s++) {
    const key = slots.keys[s] as number;
    messages.push({
      bus: slots.buses[s] as number,
      id: (key & 0x1fff_ffff) >>> 0,
      extended: key >= 0x8000_0000,
      frames: order.subarray(starts[s], starts[s + 1]),
    });
  }
  return messages.sort((a, b) => a.bus - b.bus || Number(a.extended) - Number(b.extended) || a.id - b.id);
}

/** Indices of the frames that fit `choice`, in recorded order. */
export function selectFrames(capture: Capture, choice: FrameChoice): Uint32Array {
  const { count, id, bus, flags, time } = capture;
  const { fromS = Number.NEGATIVE_INFINITY, toS = Number.POSITIVE_INFINITY } = choice;
  const buses = choice.buses ? new Uint8Array(256) : null;
  for (const number of choice.buses ?? []) if (buses) buses[number] = 1;
  const keys = choice.idKeys ? new Set(choice.idKeys) : null;
  const chosen = new Uint32Array(count);
  let n = 0;
  for (let i = 0; i < count; i++) {
    const t = time[i] as number;
    if (t < fromS || t >= toS) continue;
    if (buses !== null && buses[bus[i] as number] === 0) continue;
    if (keys !== null && !keys.has(idKey(id[i] as number, flags[i] as number))) continue;
    chosen[n++] = i;
  }
  return chosen.slice(0, n);
}

/** A capture of the frames at `frames` alone, in that order; times keep their origin. */
export function pickFrames(capture: Capture, frames: Uint32Array): Capture {
  const n = frames.length;
  const picked = {
    time: new Float64Array(n),
    id: new Uint32Array(n),
    bus: new Uint8Array(n),
    flags: new Uint8Array(n),
    length: new Uint8Array(n),
    offset: new Uint32Array(n),
  };
  let bytes = 0;
  for (let k = 0; k < n; k++) {
    const i = frames[k] as number;
    picked.time[k] = capture.time[i] as number;
    picked.id[k] = capture.id[i] as number;
    picked.bus[k] = capture.bus[i] as number;
    picked.flags[k] = capture.flags[i] as number;
    picked.length[k] = capture.length[i] as number;
    picked.offset[k] = bytes;
    bytes += storedLength(capture, i);
  }
  const payload = new Uint8Array(bytes);
  for (let k = 0; k < n; k++) {
    const i = frames[k] as number;
    const from = capture.offset[i] as number;
    payload.set(capture.payload.subarray(from, from + storedLength(capture, i)), picked.offset[k] as number);
  }
  return {
    count: n,
    originNs: capture.originNs,
    ...picked,
    payload,
    ...(capture.busNames ? { busNames: capture.busNames } : {}),
  };
}

/**
 * Several captures as one: each is moved in time so that it starts `gapS` seconds after the latest frame of those before.
 * The first keeps its times and the whole its origin; bus numbers stay as they are.
 */
export function concatenate(captures: readonly Capture[], gapS: number): Capture {
  const frames = captures.reduce((sum, c) => sum + c.count, 0);
  const bytes = captures.reduce((sum, c) => sum + c.payload.length, 0);
  const all = {
    time: new Float64Array(frames),
    id: new Uint32Array(frames),
    bus: new Uint8Array(frames),
    flags: new Uint8Array(frames),
    length: new Uint8Array(frames),
    offset: new Uint32Array(frames),
    payload: new Uint8Array(bytes),
  };
  const busNames = new Map<number, string>();
  let at = 0;
  let used = 0;
  let end = Number.NEGATIVE_INFINITY;
  for (const capture of captures) {
    let first = Number.POSITIVE_INFINITY;
    for (let i = 0; i < capture.count; i++) first = Math.min(first, capture.time[i] as number);
    const shift = at === 0 ? 0 : end + gapS - first;
    for (let i = 0; i < capture.count; i++) {
      const time = (capture.time[i] as number) + shift;
      all.time[at + i] = time;
      end = Math.max(end, time);
      all.offset[at + i] = (capture.offset[i] as number) + used;
    }
    all.id.set(capture.id, at);
    all.bus.set(capture.bus, at);
    all.flags.set(capture.flags, at);
    all.length.set(capture.length, at);
    all.payload.set(capture.payload, used);
    for (const [number, name] of capture.busNames ?? [])
      if (!busNames.has(number)) busNames.set(number, name);
    at += capture.count;
    used += capture.payload.length;
  }
  const originNs = captures.find((c) => c.count > 0)?.originNs ?? 0n;
  return { count: frames, originNs, ...all, ...(busNames.size > 0 ? { busNames } : {}) };
}

/** Payload bytes that frame `i` has in `payload`: none for a remote frame, whatever its length says. */
export function storedLength(capture: Capture, i: number): number {
  return ((capture.flags[i] as number) & FLAG.remote) !== 0 ? 0 : (capture.length[i] as number);
}

/** Open-addressed table from (bus, id key) to 0, 1, 2 … in order of appearance. */
class SlotTable {
  count = 0;
  buses = new Uint8Array(256);
  keys = new Uint32Array(256);
  #table = new Int32Array(1024).fill(-1);

  slot(bus: number, key: number): number {
    const mask = this.#table.length - 1;
    let at = hash(bus, key) & mask;
    for (;;) {
      const slot = this.#table[at] as number;
      if (slot < 0) break;
      if (this.keys[slot] === key && this.buses[slot] === bus) return slot;
      at = (at + 1) & mask;
    }
    const slot = this.count++;
    if (slot === this.keys.length) this.#growKeys();
    this.keys[slot] = key;
    this.buses[slot] = bus;
    this.#table[at] = slot;
    if (this.count * 2 > this.#table.length) this.#growTable();
    return slot;
  }

  #growKeys(): void {
    const keys = new Uint32Array(this.keys.length * 2);
    keys.set(this.keys);
    this.keys = keys;
    const buses = new Uint8Array(this.buses.length * 2);
    buses.set(this.buses);
    this.buses = buses;
  }

  #growTable(): void {
    const mask = this.#table.length * 2 - 1;
    const table = new Int32Array(mask + 1).fill(-1);
    for (let slot = 0; slot < this.count; slot++) {
      let at = hash(this.buses[slot] as number, this.keys[slot] as number) & mask;
      while ((table[at] as number) >= 0) at = (at + 1) & mask;
      table[at] = slot;
    }
    this.#table = table;
  }
}

/** Multiplicative hash; the constant is 2^32 divided by the golden ratio. */
function hash(bus: number, key: number): number {
  const mixed = Math.imul(key ^ (bus << 21), 0x9e37_79b1);
  return mixed ^ (mixed >>> 15);
}
