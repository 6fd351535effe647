/**
 * CAN bus logging: which group holds which kind of frame, and where its channels stand. The names are the convention
 * ("CAN_DataFrame.ID"); bytes and bits are those that the channels carry, whatever they are.
 */
import type { Blocks } from './blocks.ts';
import { CHANNEL, type Channel, type Linear, linearOf, namesOf } from './channels.ts';
import { type Field, fieldEnd, fieldOf } from './fields.ts';
import type { ChannelGroup } from './groups.ts';

export type FrameKind = 'data' | 'remote' | 'error';

export interface FrameLayout {
  kind: FrameKind;
  /** Bytes of a record without its id. */
  size: number;
  /** The time master in seconds after `linear`; null where it is the number of the record. */
  time: Field | null;
  linear: Linear;
  id: Field | null;
  ide: Field | null;
  bus: Field | null;
  /** The bus of all records where `bus` is null. */
  onlyBus: number;
  dlc: Field | null;
  dataLength: Field | null;
  dir: Field | null;
  edl: Field | null;
  brs: Field | null;
  esi: Field | null;
  payload: Payload;
  errorType: Field | null;
  /** Our own: the identifier word of an error message of SocketCAN, and the place of the frame in the recording. */
  errorClass: Field | null;
  order: Field | null;
  /** A record with one of these bits set is marked invalid. */
  invalid: { byte: number; mask: number }[];
  busNames: Map<number, string>;
}

/** Where payload bytes stand: nowhere, in the record with room for `room`, or at an offset among values of their own. */
export type Payload =
  | { kind: 'none' }
  | { kind: 'inRecord'; byte: number; room: number }
  | { kind: 'values'; offset: Field; link: number };

/** What a group is: frames of CAN, bus events of another kind, or measured channels; `reason` says why it cannot be read. */
export type GroupMeaning =
  | { is: 'frames'; layout: FrameLayout }
  | { is: 'unreadable'; reason: string }
  | { is: 'otherEvents'; name: string }
  | { is: 'measured' };

const KINDS: Record<string, FrameKind> = {
  CAN_DataFrame: 'data',
  CAN_RemoteFrame: 'remote',
  CAN_ErrorFrame: 'error',
};

export function meaningOf(blocks: Blocks, group: ChannelGroup, onlyBus: number): GroupMeaning {
  const parent = group.channels.find((c) => parentName(c) in KINDS);
  if (!parent) {
    const other = group.channels.find((c) => (c.flags & CHANNEL.busEvent) !== 0 || OTHER.test(c.name));
    return other ? { is: 'otherEvents', name: parentName(other) } : { is: 'measured' };
  }
  const name = parentName(parent);
  const kind = KINDS[name] as FrameKind;
  const reader = new LayoutReader(group, name);
  const master = group.channels.find((c) => c.type === CHANNEL.master || c.type === CHANNEL.virtualMaster);
  if (!master || master.sync > 1) {
    return { is: 'unreadable', reason: `The ${name} group at byte ${group.at} has no time channel` };
  }
  const linear = linearOf(blocks, master);
  if (linear === null) {
    return {
      is: 'unreadable',
      reason: `The time channel of the ${name} group at byte ${group.at} has a conversion that is neither none nor linear`,
    };
  }
  const layout: FrameLayout = {
    kind,
    size: group.dataBytes + group.invalidBytes,
    time: master.type === CHANNEL.virtualMaster ? null : reader.of(master),
    linear,
    id: reader.part('ID'),
    ide: reader.part('IDE'),
    bus: reader.part('BusChannel'),
    onlyBus,
    dlc: reader.part('DLC'),
    dataLength: reader.part('DataLength'),
    dir: reader.part('Dir'),
    edl: reader.part('EDL'),
    brs: reader.part('BRS'),
    esi: reader.part('ESI'),
    payload: kind === 'remote' ? { kind: 'none' } : reader.payload(),
    errorType: reader.part('ErrorType'),
    errorClass: reader.part('ErrorClass'),
    order: reader.whole('RecordedOrder'),
    invalid: reader.invalid,
    busNames: reader.busNames(blocks),
  };
  const missing =
    master.type === CHANNEL.master && layout.time === null
      ? 'time'
      : kind !== 'error' && layout.id === null
        ? 'ID'
        : kind === 'data' && layout.payload.kind === 'none'
          ? 'DataBytes'
          : layout.dataLength === null &&
              layout.dlc === null &&
              layout.payload.kind === 'inRecord' &&
              kind === 'data'
            ? 'DataLength'
            : null;
  if (missing !== null) {
    return {
      is: 'unreadable',
      reason: `The ${name} group at byte ${group.at} has no ${missing} channel that lies within its records of ${group.dataBytes} bytes`,
    };
  }
  if (layout.size === 0 || layout.size > LONGEST_RECORD) {
    return {
      is: 'unreadable',
      reason: `The ${name} group at byte ${group.at} claims records of ${layout.size} bytes, which no frame has`,
    };
  }
  return { is: 'frames', layout };
}

/** A frame with all that loggers add takes some hundred bytes. */
const LONGEST_RECORD = 1 << 16;

/** Other events of buses, by the names of the convention. */
const OTHER = /^(CAN_OverloadFrame|LIN_|FLX_|MOST_|ETH_|K_LINE|USB_)/;

/** "CAN_DataFrame" of "CAN_DataFrame.ID" and of "CAN_DataFrame". */
function parentName(channel: Channel): string {
  const dot = channel.name.indexOf('.');
  return dot < 0 ? channel.name : channel.name.slice(0, dot);
}

/** Finds the channels of one kind of frame; a channel that does not lie within the record counts as absent. */
class LayoutReader {
  /** Invalidation bits of the channels that were taken. */
  readonly invalid: { byte: number; mask: number }[] = [];
  readonly #group: ChannelGroup;
  readonly #name: string;

  constructor(group: ChannelGroup, name: string) {
    this.#group = group;
    this.#name = name;
  }

  of(channel: Channel | undefined): Field | null {
    const field = channel ? fieldOf(channel) : null;
    if (!channel || field === null || fieldEnd(field) > this.#group.dataBytes) return null;
    this.#markable(channel);
    return field;
  }

  /** A part of the frame: a whole number of at most 32 bits. */
  part(what: string): Field | null {
    return this.#number(`${this.#name}.${what}`);
  }

  whole(name: string): Field | null {
    return this.#number(name);
  }

  payload(): Payload {
    const channel = this.#find(`${this.#name}.DataBytes`);
    if (!channel) return { kind: 'none' };
    if (channel.type === CHANNEL.variable) {
      const offset = this.of({ ...channel, dataType: 0 });
      return offset ? { kind: 'values', offset, link: channel.data } : { kind: 'none' };
    }
    const room = channel.bits >> 3;
    if (channel.bit !== 0 || room === 0 || channel.byte + room > this.#group.dataBytes)
      return { kind: 'none' };
    this.#markable(channel);
    return { kind: 'inRecord', byte: channel.byte, room };
  }

  busNames(blocks: Blocks): Map<number, string> {
    const channel = this.#find(`${this.#name}.BusChannel`);
    return channel ? namesOf(blocks, channel) : new Map();
  }

  #number(name: string): Field | null {
    const channel = this.#find(name);
    if (!channel || channel.bits > 32 || channel.dataType > 3) return null;
    return this.of(channel);
  }

  #find(name: string): Channel | undefined {
    return this.#group.channels.find((c) => c.name === name);
  }

  #markable(channel: Channel): void {
    const byte = this.#group.dataBytes + (channel.invalidBit >>> 3);
    if ((channel.flags & CHANNEL.hasInvalidBit) === 0) return;
    if (byte >= this.#group.dataBytes + this.#group.invalidBytes) return;
    this.invalid.push({ byte, mask: 1 << (channel.invalidBit & 7) });
  }
}
