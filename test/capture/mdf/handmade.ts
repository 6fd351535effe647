/** MDF 4 files put together by hand, for tests: nothing here comes from the writer or reader under test. */

/** A number with its size in bytes; "f" is a double, "t" text as it is. */
export type Item = readonly [1 | 2 | 4 | 8 | 'f', number | bigint] | Uint8Array | string;

export function bytesOf(...items: readonly Item[]): Uint8Array {
  const all: number[] = [];
  for (const item of items) {
    if (typeof item === 'string') all.push(...new TextEncoder().encode(item));
    else if (item instanceof Uint8Array) for (const byte of item) all.push(byte);
    else {
      const buffer = new DataView(new ArrayBuffer(8));
      const [size, value] = item;
      if (size === 'f') buffer.setFloat64(0, Number(value), true);
      else buffer.setBigUint64(0, BigInt.asUintN(64, BigInt(value)), true);
      for (let k = 0; k < (size === 'f' ? 8 : size); k++) all.push(buffer.getUint8(k));
    }
  }
  return Uint8Array.from(all);
}

/** The name of a block, a position, or 0. */
export type Link = string | number;

interface MadeBlock {
  name: string;
  id: string;
  links: readonly Link[];
  data: Uint8Array;
  /** The length that it claims, where that is not the right one. */
  claims: number | undefined;
  linkCount: number | undefined;
}

/** Collects blocks by name; `bytes` puts them in that order behind the identification. The first one is the HD block. */
export class MadeFile {
  readonly #blocks: MadeBlock[] = [];
  #texts = 0;

  block(
    name: string,
    id: string,
    links: readonly Link[],
    data: Uint8Array,
    more: { claims?: number; linkCount?: number } = {},
  ): string {
    this.#blocks.push({ name, id, links, data, claims: more.claims, linkCount: more.linkCount });
    return name;
  }

  /** A TX block; returns its name. */
  text(words: string): string {
    if (words === '') return '';
    const data = bytesOf(words, [1, 0]);
    const padded = new Uint8Array(Math.ceil(data.length / 8) * 8);
    padded.set(data);
    return this.block(`text ${this.#texts++}`, 'TX', [], padded);
  }

  header(firstGroup: Link, startNs = 0n, flags = 0): void {
    const data = bytesOf(
      [8, startNs],
      [2, 0],
      [2, 0],
      [1, flags],
      [1, 0],
      [1, 0],
      [1, 0],
      ['f', 0],
      ['f', 0],
    );
    this.block('HD', 'HD', [firstGroup, 0, 0, 0, 0, 0], data);
  }

  dataGroup(name: string, next: Link, firstChannelGroup: Link, data: Link, recordIdSize = 0): void {
    this.block(
      name,
      'DG',
      [next, firstChannelGroup, data, 0],
      bytesOf([1, recordIdSize], [1, 0], [2, 0], [4, 0]),
    );
  }

  channelGroup(
    name: string,
    firstChannel: Link,
    {
      next = 0 as Link,
      recordId = 0 as number | bigint,
      cycles = 0,
      flags = 6,
      bytes = 0,
      invalid = 0,
      source = 0 as Link,
    } = {},
  ): void {
    this.block(
      name,
      'CG',
      [next, firstChannel, 0, source, 0, 0],
      bytesOf([8, recordId], [8, cycles], [2, flags], [2, 46], [4, 0], [4, bytes], [4, invalid]),
    );
  }

  channel(
    name: string,
    {
      next = 0 as Link,
      parts = 0 as Link,
      words = '',
      conversion = 0 as Link,
      data = 0 as Link,
      type = 0,
      sync = 0,
      dataType = 0,
      bit = 0,
      byte = 0,
      bits = 8,
      flags = 0,
      invalidBit = 0,
    } = {},
  ): void {
    const text = this.text(words);
    this.block(
      name,
      'CN',
      [next, parts, text || 0, 0, conversion, data, 0, 0],
      bytesOf(
        [1, type],
        [1, sync],
        [1, dataType],
        [1, bit],
        [4, byte],
        [4, bits],
        [4, flags],
        [4, invalidBit],
        [1, 0],
        [1, 0],
        [2, 0],
        new Uint8Array(48),
      ),
    );
  }

  source(name: string, words: string): void {
    const text = this.text(words);
    this.block(name, 'SI', [text || 0, 0, 0], bytesOf([1, 2], [1, 2], [1, 0], [1, 0], [4, 0]));
  }

  linear(name: string, offset: number, factor: number): void {
    this.block(
      name,
      'CC',
      [0, 0, 0, 0],
      bytesOf([1, 1], [1, 0], [2, 0], [2, 0], [2, 2], ['f', 0], ['f', 0], ['f', offset], ['f', factor]),
    );
  }

  data(name: string, bytes: Uint8Array, id: 'DT' | 'SD' = 'DT', more: { claims?: number } = {}): void {
    this.block(name, id, [], bytes, more);
  }

  packed(name: string, data: Uint8Array, size: number, zip = 0, parameter = 0, original = 'DT'): void {
    this.block(
      name,
      'DZ',
      [],
      bytesOf(original, [1, zip], [1, 0], [4, parameter], [8, size], [8, data.length], data),
    );
  }

  list(name: string, next: Link, blocks: readonly Link[]): void {
    const offsets = blocks.map(() => [8, 0] as const);
    this.block(
      name,
      'DL',
      [next, ...blocks],
      bytesOf([1, 0], [1, 0], [2, 0], [4, blocks.length], ...offsets),
    );
  }

  at(name: string): number {
    return this.#places().get(name) as number;
  }

  bytes({ magic = 'MDF     ', version = 410, unfinished = 0 } = {}): Uint8Array {
    const places = this.#places();
    const all = [
      bytesOf(
        magic,
        `${(version / 100).toFixed(2)}    `,
        'by hand ',
        [4, 0],
        [2, version],
        new Uint8Array(30),
        [2, unfinished],
        [2, 0],
      ),
    ];
    for (const { id, links, data, claims, linkCount } of this.#blocks) {
      const length = claims ?? 24 + 8 * links.length + data.length;
      const positions = links.map((link) => {
        const at = typeof link === 'number' ? link : places.get(link);
        if (at === undefined) throw new Error(`no block ${link}`);
        return [8, at] as const;
      });
      const block = bytesOf(
        `##${id}`,
        [4, 0],
        [8, length],
        [8, linkCount ?? links.length],
        ...positions,
        data,
      );
      const padded = new Uint8Array(Math.ceil(block.length / 8) * 8);
      padded.set(block);
      all.push(id === 'DT' ? block : padded);
      if (id === 'DT') all.push(new Uint8Array(padded.length - block.length));
    }
    return bytesOf(...all);
  }

  #places(): Map<string, number> {
    const places = new Map<string, number>();
    let at = 64;
    for (const { name, links, data } of this.#blocks) {
      places.set(name, at);
      at += Math.ceil((24 + 8 * links.length + data.length) / 8) * 8;
    }
    return places;
  }
}

/** Where the channels of a frame stand: [byte, bit, bits] by the name of the part. */
export type Places = Record<string, readonly [byte: number, bit: number, bits: number]>;

/** The long form of the usual layout, can.md 5.4. */
export const LONG: Places = {
  BusChannel: [8, 0, 8],
  ID: [9, 0, 29],
  IDE: [12, 7, 1],
  DLC: [13, 0, 4],
  Dir: [13, 4, 1],
  SRR: [13, 5, 1],
  EDL: [13, 6, 1],
  BRS: [13, 7, 1],
  DataLength: [14, 0, 8],
  ESI: [15, 0, 1],
  WakeUp: [15, 1, 1],
  SingleWire: [15, 2, 1],
  R0: [15, 3, 1],
  R1: [15, 4, 1],
  FrameDuration: [16, 0, 32],
  CRC: [20, 0, 32],
};

/** The short form of the usual layout. */
export const SHORT: Places = {
  BusChannel: [8, 0, 8],
  ID: [9, 0, 29],
  IDE: [12, 7, 1],
  DLC: [13, 0, 4],
  DataLength: [14, 0, 8],
};

export interface FrameChannels {
  parent?: string;
  places?: Places;
  /** Byte, bits and channel type of DataBytes; `link` for values of variable length. */
  data?: { byte: number; bits: number; type: number; link?: Link } | null;
  time?: { byte?: number; bits?: number; dataType?: number; conversion?: Link; type?: number; sync?: number };
  invalidBitOfId?: number;
}

/** Adds a time channel and the channels of a frame, each named by `prefix`; returns the first one. */
export function frameChannels(file: MadeFile, prefix: string, options: FrameChannels = {}): string {
  const { parent = 'CAN_DataFrame', places = LONG, time = {} } = options;
  const data = options.data === undefined ? { byte: 24, bits: 64, type: 5 } : options.data;
  const names = Object.keys(places);
  file.channel(`${prefix} t`, {
    words: 't',
    type: time.type ?? 2,
    sync: time.sync ?? 1,
    dataType: time.dataType ?? 4,
    byte: time.byte ?? 0,
    bits: time.bits ?? 64,
    conversion: time.conversion ?? 0,
    next: `${prefix} frame`,
  });
  file.channel(`${prefix} frame`, {
    words: parent,
    dataType: 10,
    byte: 8,
    bits: 8,
    flags: 0x400,
    parts: `${prefix} ${names[0]}`,
  });
  for (const [k, name] of names.entries()) {
    const [byte, bit, bits] = places[name] as Places[string];
    file.channel(`${prefix} ${name}`, {
      words: `${parent}.${name}`,
      byte,
      bit,
      bits,
      flags: 0x400 | (name === 'ID' && options.invalidBitOfId !== undefined ? 2 : 0),
      invalidBit: options.invalidBitOfId ?? 0,
      next: names[k + 1] ? `${prefix} ${names[k + 1]}` : data ? `${prefix} bytes` : 0,
    });
  }
  if (data) {
    file.channel(`${prefix} bytes`, {
      words: `${parent}.DataBytes`,
      type: data.type,
      dataType: 10,
      byte: data.byte,
      bits: data.bits,
      flags: 0x400,
      data: data.link ?? 0,
    });
  }
  return `${prefix} t`;
}

/** A record of the long form with eight payload bytes. */
export function longRecord(
  time: number,
  { bus = 0, id = 0, ide = 0, dir = 0, edl = 0, brs = 0, esi = 0, data = [] as number[], room = 8, dlc = -1 },
): Uint8Array {
  const payload = new Uint8Array(room);
  payload.set(data);
  return bytesOf(
    ['f', time],
    [1, bus],
    [4, BigInt(id) | (BigInt(ide) << 31n)],
    [1, (dlc < 0 ? data.length : dlc) | (dir << 4) | (edl << 6) | (brs << 7)],
    [1, data.length],
    [1, esi],
    [4, 222_000],
    [4, 0x4599],
    payload,
  );
}

export function shortRecord(time: number, bus: number, id: number, data: readonly number[]): Uint8Array {
  const payload = new Uint8Array(8);
  payload.set(data);
  return bytesOf(['f', time], [1, bus], [4, id], [1, data.length], [1, data.length], payload);
}
