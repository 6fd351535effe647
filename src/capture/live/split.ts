/**
 * A live pcap or pcapng stream cut into whole pcapng blocks that can be appended to a file at any moment. Blocks of a
 * pcapng stream pass as they came, records of a pcap stream become blocks; half a block never passes.
 */
import { hexBytes, u16, u32 } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { BLOCK } from '../pcapngWrite.ts';
import { LINKTYPE_CAN_SOCKETCAN, LONGEST_RECORD, wrongLinkType } from '../socketcan.ts';
import { pcapPacket, pcapSection, RECORD_HEADER } from './pcapBlocks.ts';
import { findStart, PCAP_HEADER, pcapLinkType, type StreamKind, startAt } from './start.ts';

/** What the stream did that a person should know: one sentence, and how many of its bytes were left out. */
export interface StreamNote {
  text: string;
  lost: number;
}

/** A block that claims more than this is damage: it is held in memory until it is whole. */
const LONGEST_BLOCK = 1 << 20;
const FRAMING = 12;
const PACKET_LEAST = 32;

export class StreamSplitter {
  readonly #bus: number;
  readonly #note: (note: StreamNote) => void;
  #buffer = new Uint8Array(1 << 16);
  /** What was not taken yet is `#buffer[#from … #to)`. */
  #from = 0;
  #to = 0;
  /** Offset in the stream of `#buffer[#from]`. */
  #at = 0;
  #state: 'before' | 'lost' | StreamKind = 'before';
  /** The kind of stream that was read last, for comparison when it begins anew. */
  #last: StreamKind | null = null;
  /** Bytes left out since the damage. */
  #lost = 0;
  /** Up to here the held bytes were searched for a new beginning. */
  #searched = 0;
  /** Whether what could begin a new stream is taken for what it seems, as nothing more came to tell. */
  #patience: 'waits' | 'takes' = 'waits';
  #out: Uint8Array[] = [];

  /** `bus` is the number of the one bus that a pcap stream holds; pcapng says it itself. */
  constructor(bus: number, note: (note: StreamNote) => void) {
    this.#bus = bus;
    this.#note = note;
  }

  /** What the stream turned out to be: "pcap in microseconds"; empty before its header came. */
  get words(): string {
    return this.#last === null ? '' : kindWords(this.#last);
  }

  /**
   * Takes a piece of any size; returns the blocks that are whole now, valid until the next call.
   * @throws CaptureError where the stream is neither pcap nor pcapng with the SocketCAN link type
   */
  push(piece: Uint8Array): Uint8Array[] {
    this.#hold(piece);
    return this.#take();
  }

  /** Says that nothing came for a while: what waits only for bytes behind it passes now. */
  settle(): Uint8Array[] {
    if (this.#from === this.#to || typeof this.#state === 'string') return [];
    this.#patience = 'takes';
    const out = this.#take();
    this.#patience = 'waits';
    return out;
  }

  /**
   * Says that the stream is over; notes what was left of a block.
   * @throws CaptureError where what came is the beginning of no stream
   */
  end(how: 'ended' | 'stopped'): Uint8Array[] {
    const out = this.settle();
    const left = this.#to - this.#from;
    if (this.#state === 'before') {
      if (left === 0) return out;
      if (startAt(this.#buffer, this.#from, this.#to) === null) throw this.#refusal();
      this.#note({
        text: `The stream ended after ${left} bytes, in the middle of its header.`,
        lost: left,
      });
    } else if (this.#state === 'lost') {
      this.#note({
        text: `The ${this.#lost + left} bytes from the damage to the end of the stream were left out.`,
        lost: this.#lost + left,
      });
    } else if (left > 0 && how === 'ended') {
      this.#note({
        text: `The stream ended in the middle of a ${this.#state.kind === 'pcap' ? 'record' : 'block'}, at byte ${this.#at + left}: the ${left} bytes of it that came were left out, all before it is kept.`,
        lost: left,
      });
    }
    return out;
  }

  #hold(piece: Uint8Array): void {
    const left = this.#to - this.#from;
    if (this.#to + piece.length > this.#buffer.length) {
      const old = this.#buffer;
      if (left + piece.length > old.length) {
        this.#buffer = new Uint8Array(Math.max(2 * old.length, left + piece.length));
        this.#buffer.set(old.subarray(this.#from, this.#to));
      } else this.#buffer.copyWithin(0, this.#from, this.#to);
      this.#searched = Math.max(0, this.#searched - this.#from);
      this.#from = 0;
      this.#to = left;
    }
    this.#buffer.set(piece, this.#to);
    this.#to += piece.length;
  }

  #take(): Uint8Array[] {
    this.#out = [];
    while (this.#from < this.#to && this.#step() === 'taken');
    return this.#out;
  }

  /** Takes one header, record or block, or finds that it has to wait for more. */
  #step(): 'taken' | 'wait' {
    const state = this.#state;
    if (state === 'lost') return this.#search();
    const start = startAt(this.#buffer, this.#from, this.#to);
    if (start === 'more' && (this.#patience === 'waits' || state === 'before')) return 'wait';
    if (start !== null && start !== 'more') return this.#begin(start);
    if (state === 'before') throw this.#refusal();
    return state.kind === 'pcap' ? this.#record(state) : this.#block(state);
  }

  #begin(start: StreamKind): 'taken' | 'wait' {
    const header = start.kind === 'pcap' ? PCAP_HEADER : u32(this.#buffer, this.#from + 4, start.order);
    if (start.kind === 'pcapng') {
      if (header < 28 || header % 4 !== 0 || header > LONGEST_BLOCK)
        return this.#damage(`the section header claims ${header} bytes`);
      if (this.#to - this.#from < header) return 'wait';
      const major = u16(this.#buffer, this.#from + 12, start.order);
      if (major !== 1 || u32(this.#buffer, this.#from + header - 4, start.order) !== header)
        return this.#damage('the section header is not that of pcapng version 1');
    }
    const before = this.#last;
    if (before !== null) {
      const changed = kindWords(before) === kindWords(start) ? 'as before' : `before: ${kindWords(before)}`;
      this.#note({
        text: `The stream began anew at byte ${this.#at}, as ${kindWords(start)} (${changed}): a new section of the recording.`,
        lost: 0,
      });
    }
    if (start.kind === 'pcap') this.#out.push(pcapSection(this.#bus, start.parts));
    else {
      const section = this.#buffer.slice(this.#from, this.#from + header);
      // Section length "not known": what the sender meant is not what is appended, where a damaged block is left out.
      section.fill(0xff, 16, 24);
      this.#out.push(section);
    }
    this.#state = start;
    this.#last = start;
    return this.#pass(header);
  }

  #record({ order, parts }: StreamKind & { kind: 'pcap' }): 'taken' | 'wait' {
    const buffer = this.#buffer;
    const from = this.#from;
    const known = this.#to - from;
    if (known < RECORD_HEADER) return 'wait';
    const captured = u32(buffer, from + 8, order);
    if (captured > LONGEST_RECORD)
      return this.#damage(`the record claims ${captured} bytes, more than any CAN frame has`);
    const size = RECORD_HEADER + captured;
    // A sender that broke off in the middle of this record and began anew put its header into it.
    const inside = findStart(buffer, from + 1, Math.min(from + size, this.#to), this.#to);
    if (inside !== null && inside.start !== 'more') {
      this.#note({
        text: `The record at byte ${this.#at} broke off: the ${inside.at - from} bytes of it that came were left out.`,
        lost: inside.at - from,
      });
      return this.#pass(inside.at - from);
    }
    if (known < size || (inside !== null && this.#patience === 'waits')) return 'wait';
    this.#out.push(pcapPacket(buffer, from, captured, order, parts));
    return this.#pass(size);
  }

  #block({ order }: StreamKind & { kind: 'pcapng' }): 'taken' | 'wait' {
    const buffer = this.#buffer;
    const from = this.#from;
    const known = this.#to - from;
    if (known < FRAMING) return 'wait';
    const type = u32(buffer, from, order);
    const total = u32(buffer, from + 4, order);
    if (total < FRAMING || total % 4 !== 0 || total > LONGEST_BLOCK)
      return this.#damage(`the block claims ${total} bytes`);
    if (known < total) return 'wait';
    const again = u32(buffer, from + total - 4, order);
    if (again !== total)
      return this.#damage(`the block starts with the length ${total} and ends with ${again}`);
    if (type === BLOCK.section) return this.#damage('a section header without a byte order');
    if (type === BLOCK.packet || type === BLOCK.oldPacket) {
      const captured = total >= PACKET_LEAST ? u32(buffer, from + 20, order) : 0;
      if (total < PACKET_LEAST || captured > total - PACKET_LEAST) {
        this.#note({
          text: `The packet at byte ${this.#at} claims ${captured} bytes of data in a block of ${total} and was left out.`,
          lost: total,
        });
        return this.#pass(total);
      }
    } else if (type === BLOCK.interface && total >= 20) {
      const linkType = u16(buffer, from + 8, order);
      if (linkType !== LINKTYPE_CAN_SOCKETCAN)
        this.#note({
          text: `${wrongLinkType(linkType, `of the interface at byte ${this.#at}`)} Its packets are kept, but give no frames.`,
          lost: 0,
        });
    }
    this.#passOn(from, from + total);
    return this.#pass(total);
  }

  /** Adds held bytes to what passes; blocks that follow each other become one array. */
  #passOn(from: number, to: number): void {
    const last = this.#out.at(-1);
    const joins =
      last !== undefined && last.buffer === this.#buffer.buffer && last.byteOffset + last.length === from;
    if (joins) this.#out[this.#out.length - 1] = this.#buffer.subarray(last.byteOffset, to);
    else this.#out.push(this.#buffer.subarray(from, to));
  }

  #pass(bytes: number): 'taken' {
    this.#from += bytes;
    this.#at += bytes;
    return 'taken';
  }

  #damage(what: string): 'taken' {
    this.#note({
      text: `Damage at byte ${this.#at} of the stream: ${what}. What follows is left out until the stream begins anew.`,
      lost: 0,
    });
    this.#state = 'lost';
    this.#lost = 0;
    this.#searched = this.#from + 1;
    return 'taken';
  }

  /** Leaves out what follows a damage until a stream begins anew. */
  #search(): 'taken' | 'wait' {
    const found = findStart(this.#buffer, Math.max(this.#searched, this.#from), this.#to, this.#to);
    const at = found?.at ?? this.#to;
    this.#lost += at - this.#from;
    this.#pass(at - this.#from);
    this.#searched = this.#from;
    if (found === null || found.start === 'more') return 'wait';
    this.#note({
      text: `${this.#lost} bytes up to byte ${this.#at} of the stream were left out.`,
      lost: this.#lost,
    });
    this.#state = found.start;
    return 'taken';
  }

  #refusal(): CaptureError {
    const linkType = pcapLinkType(this.#buffer, this.#from, this.#to);
    if (linkType !== null) return new CaptureError(wrongLinkType(linkType, 'at byte 20 of the stream'));
    const head = this.#buffer.subarray(this.#from, Math.min(this.#from + 4, this.#to));
    if (head[0] === 0x1f && head[1] === 0x8b)
      return new CaptureError('The stream is packed with gzip: unpack it on the way, with gzip -dc.');
    return new CaptureError(
      `The stream is neither pcap nor pcapng: it starts with ${hexBytes(head)} at byte 0; right would be what tcpdump -i can0 -U -w - gives.`,
    );
  }
}

function kindWords(kind: StreamKind): string {
  if (kind.kind === 'pcapng') return 'pcapng';
  return `pcap in ${kind.parts === 1e9 ? 'nanoseconds' : 'microseconds'}`;
}
