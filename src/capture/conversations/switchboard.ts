/** Sends each frame of a capture to the links that it belongs to, by identifier. */
import { FLAG, idKey } from '../../can/frame.ts';
import { flowControl, ISOTP_TYPE } from '../../can/transport/isotp.ts';
import { CONTROL, isReceiversControl, TP_FORMAT } from '../../can/transport/j1939Transport.ts';
import type { Capture } from '../store.ts';
import { FastPacketLink, IsoTpLink, J1939Link } from './links.ts';
import { type IsoTpPair, PeerBook } from './peers.ts';
import { TransferTable } from './transfers.ts';

export type AnyLink = IsoTpLink | J1939Link | FastPacketLink;

export class Switchboard {
  readonly table = new TransferTable();
  readonly links: AnyLink[] = [];
  readonly #capture: Capture;
  readonly #peers: PeerBook;
  /** By bus × 2³³ + identifier, and below it address bytes or destinations. */
  readonly #isoTp = new Map<number, IsoTpLink>();
  readonly #j1939 = new Map<number, J1939Link>();
  readonly #fast = new Map<number, FastPacketLink>();

  constructor(capture: Capture, pairs: readonly IsoTpPair[]) {
    this.#capture = capture;
    this.#peers = new PeerBook(pairs);
  }

  /** Frame `i` of the capture; frames that can belong to no transfer are passed over. */
  push(i: number): void {
    const { id, flags } = this.#capture;
    const flag = flags[i] as number;
    if ((flag & (FLAG.remote | FLAG.error)) !== 0) return;
    const identifier = id[i] as number;
    if ((flag & FLAG.extended) === 0) {
      if (identifier >= LOWEST_GUESS || this.#peers.isNamed(identifier)) this.#pushIsoTp(i, identifier, flag);
      return;
    }
    const format = (identifier >>> 16) & 0x3ff;
    if (format >= FAST_FROM && format <= FAST_TO) this.#pushFast(i, identifier, flag);
    else if (DIAGNOSTIC.has(format) || this.#peers.isNamed(idKey(identifier, flag))) {
      this.#pushIsoTp(i, identifier, flag);
    } else if (format === TP_FORMAT.control || format === TP_FORMAT.extendedControl) {
      this.#pushControl(i, identifier, flag, format === TP_FORMAT.control ? 'ordinary' : 'extended');
    } else if (format === TP_FORMAT.data || format === TP_FORMAT.extendedData) {
      const form = format === TP_FORMAT.data ? 'ordinary' : 'extended';
      const link = this.#connection(i, identifier & 0xff, (identifier >>> 8) & 0xff, form, flag);
      link.seen++;
      link.receiver.data(i, ...this.#frame(i));
    }
  }

  end(): void {
    for (const link of this.links) link.receiver.end();
  }

  #pushIsoTp(i: number, identifier: number, flag: number): void {
    const { bus, offset, length, payload, time } = this.#capture;
    const key = idKey(identifier, flag);
    const peering = this.#peers.of(key);
    const { typeAt } = peering;
    const from = offset[i] as number;
    const size = length[i] as number;
    const address = typeAt === 1 && size > 0 ? (payload[from] as number) : -1;
    const place = ((bus[i] as number) * 2 ** 33 + key) * 512 + address + 1;
    let link = this.#isoTp.get(place);
    if (!link) {
      const at = { index: this.links.length, bus: bus[i] as number, idKey: key, address };
      link = new IsoTpLink(at, this.table, peering);
      this.#isoTp.set(place, link);
      this.links.push(link);
    }
    link.seen++;
    const moment = time[i] as number;
    const type = size > typeAt ? (payload[from + typeAt] as number) >> 4 : -1;
    if (type !== ISOTP_TYPE.flow) {
      link.receiver.push(i, moment, payload, from, size);
      return;
    }
    const flow = flowControl(payload, from, size, typeAt);
    if (!flow) {
      link.broken('short', i, -1, 0, 0, size, typeAt + 3);
      return;
    }
    link.fitting++;
    (this.#waitingFor(link) ?? link).receiver.flow(i, moment, flow);
  }

  /** The link under way that flow control from `link` is meant for. */
  #waitingFor(link: IsoTpLink): IsoTpLink | null {
    let found: IsoTpLink | null = null;
    for (const other of this.#isoTp.values()) {
      if (other === link || other.bus !== link.bus || !other.receiver.open) continue;
      if (link.peers.length > 0 ? link.peers.includes(other.idKey) : other.peers.length === 0) found = other;
    }
    return found;
  }

  #pushControl(i: number, identifier: number, flag: number, form: 'ordinary' | 'extended'): void {
    const source = identifier & 0xff;
    const destination = (identifier >>> 8) & 0xff;
    const [moment, payload, from, length] = this.#frame(i);
    const code = length > 0 ? (payload[from] as number) : -1;
    const own = this.#connection(i, source, destination, form, flag);
    const back = () => this.#connection(i, destination, source, form, flag);
    const link = isReceiversControl(code) || (code === CONTROL.abort && !own.receiver.open) ? back() : own;
    link.seen++;
    if (link === own) link.receiver.control(i, moment, payload, from, length);
    else link.receiver.answer(i, moment, payload, from, length);
  }

  #connection(
    i: number,
    source: number,
    destination: number,
    form: 'ordinary' | 'extended',
    flag: number,
  ): J1939Link {
    const bus = this.#capture.bus[i] as number;
    const place = ((bus * 256 + source) * 256 + destination) * 2 + (form === 'extended' ? 1 : 0);
    let link = this.#j1939.get(place);
    if (!link) {
      const format = form === 'extended' ? TP_FORMAT.extendedControl : TP_FORMAT.control;
      const id =
        ((this.#capture.id[i] as number) & 0x1c00_0000) | (format << 16) | (destination << 8) | source;
      const at = { index: this.links.length, bus, idKey: idKey(id >>> 0, flag), address: -1 };
      link = new J1939Link(at, this.table, form);
      this.#j1939.set(place, link);
      this.links.push(link);
    }
    return link;
  }

  #pushFast(i: number, identifier: number, flag: number): void {
    const { bus, time, length, offset, payload } = this.#capture;
    const key = idKey(identifier, flag);
    const place = (bus[i] as number) * 2 ** 33 + key;
    let link = this.#fast.get(place);
    if (!link) {
      const format = (identifier >>> 16) & 0x3ff;
      const toOne = (format & 0xff) < 240;
      const group = (identifier >>> 8) & (toOne ? 0x3ff00 : 0x3ffff);
      const at = { index: this.links.length, bus: bus[i] as number, idKey: key, address: -1 };
      const sequenceOf = (frame: number) => (payload[offset[frame] as number] as number) >> 5;
      link = new FastPacketLink(at, this.table, group, sequenceOf);
      this.#fast.set(place, link);
      this.links.push(link);
    }
    link.seen++;
    link.receiver.push(i, time[i] as number, payload, offset[i] as number, length[i] as number);
  }

  #frame(i: number): [number, Uint8Array, number, number] {
    const { time, payload, offset, length } = this.#capture;
    return [time[i] as number, payload, offset[i] as number, length[i] as number];
  }
}

/** Base identifiers from here on are tried as diagnostics (common practice, no source). */
const LOWEST_GUESS = 0x700;
/** PDU formats of ISO 15765-2 in 29 bits: physical, functional, and both with mixed addressing. */
const DIAGNOSTIC = new Set([0xda, 0xdb, 0xce, 0xcd]);
/** PDU formats of NMEA 2000 groups that may be fast packets: 1ED00 … 1FFFF (from memory). */
const FAST_FROM = 0x1ed;
const FAST_TO = 0x1ff;
