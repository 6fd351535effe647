/** One link = one sender to one address: its receiver, what it handed over, and whether what came is believed. */
import { FastPacketReceiver } from '../../can/transport/fastPacket.ts';
import { IsoTpReceiver } from '../../can/transport/isotp.ts';
import { J1939Receiver } from '../../can/transport/j1939Transport.ts';
import type { FaultReason, TransferSink } from '../../can/transport/sink.ts';
import type { Peering } from './peers.ts';
import { TRANSFER_KINDS, type TransferFault, type TransferTable } from './transfers.ts';

/** `given`: known from a standard or named by the user; `guess`: to be judged by how well its frames fit together. */
export type Standing = 'given' | 'guess';

abstract class Link implements TransferSink {
  /** Frames pushed, and frames that became part of whole transfers. */
  seen = 0;
  fitting = 0;
  transfers = 0;
  faults = 0;
  readonly kept: TransferFault[] = [];
  readonly index: number;
  readonly bus: number;
  readonly idKey: number;
  readonly address: number;
  readonly standing: Standing;
  protected readonly table: TransferTable;

  constructor(at: LinkPlace, standing: Standing, table: TransferTable) {
    this.index = at.index;
    this.bus = at.bus;
    this.idKey = at.idKey;
    this.address = at.address;
    this.standing = standing;
    this.table = table;
  }

  abstract kind(): number;
  abstract group(): number;

  whole(first: number, last: number, frames: number, bytes: Uint8Array, from: number, length: number): void {
    this.fitting += frames;
    this.transfers++;
    this.table.add(this.index, this.kind(), this.group(), first, last, frames, bytes, from, length);
  }

  broken(
    reason: FaultReason,
    frame: number,
    first: number,
    received: number,
    announced: number,
    found: number,
    due: number,
  ): void {
    this.faults++;
    if (this.kept.length >= FAULTS_KEPT) return;
    const { bus, idKey, address } = this;
    const kind = TRANSFER_KINDS[this.kind()] as (typeof TRANSFER_KINDS)[number];
    this.kept.push({
      reason,
      kind,
      bus,
      idKey,
      address,
      group: this.group(),
      frame,
      first,
      received,
      announced,
      found,
      due,
    });
  }
}

export interface LinkPlace {
  index: number;
  bus: number;
  idKey: number;
  address: number;
}

export class IsoTpLink extends Link {
  readonly receiver: IsoTpReceiver;
  /** Identifiers (`idKey`) of the other side; none where they are not known. */
  readonly peers: readonly number[];

  constructor(at: LinkPlace, table: TransferTable, peering: Peering) {
    super(at, peering.given ? 'given' : 'guess', table);
    this.receiver = new IsoTpReceiver(this, { typeAt: peering.typeAt });
    this.peers = peering.peers;
  }

  kind(): number {
    return TRANSFER_KINDS.indexOf('isoTp');
  }

  group(): number {
    return -1;
  }
}

export class J1939Link extends Link {
  readonly receiver: J1939Receiver;

  constructor(at: LinkPlace, table: TransferTable, form: 'ordinary' | 'extended') {
    super(at, 'given', table);
    this.receiver = new J1939Receiver(this, form);
  }

  kind(): number {
    return TRANSFER_KINDS.indexOf(this.receiver.kind);
  }

  group(): number {
    return this.receiver.group;
  }
}

export class FastPacketLink extends Link {
  readonly receiver = new FastPacketReceiver(this);
  /** Transfers whose sequence number is another one than that of the transfer before. */
  moved = 0;
  /** Transfers of more than one frame. */
  long = 0;
  #sequence = -1;
  readonly #group: number;
  readonly #sequenceOf: (frame: number) => number;

  constructor(at: LinkPlace, table: TransferTable, group: number, sequenceOf: (frame: number) => number) {
    super(at, 'guess', table);
    this.#group = group;
    this.#sequenceOf = sequenceOf;
  }

  override whole(
    first: number,
    last: number,
    frames: number,
    bytes: Uint8Array,
    from: number,
    length: number,
  ): void {
    const sequence = this.#sequenceOf(first);
    if (sequence !== this.#sequence) this.moved++;
    this.#sequence = sequence;
    if (frames > 1) this.long++;
    super.whole(first, last, frames, bytes, from, length);
  }

  kind(): number {
    return TRANSFER_KINDS.indexOf('fastPacket');
  }

  group(): number {
    return this.#group;
  }
}

/** Faults kept one by one for each link; the others are counted. */
export const FAULTS_KEPT = 100;
