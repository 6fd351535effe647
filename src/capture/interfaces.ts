/** The interfaces of a pcapng recording: which bus each is, and how its stamps become seconds. */
import { type ByteOrder, u16, u32 } from './bytes.ts';
import { OPTION } from './pcapngWrite.ts';
import { LINKTYPE_CAN_SOCKETCAN, wrongLinkType } from './socketcan.ts';
import type { CaptureBuilder } from './store.ts';

export interface Interface {
  /** Whether its packets are SocketCAN frames. */
  can: boolean;
  linkType: number;
  name: string;
  bus: number;
  /** Ticks a second: 10^n or 2^n. */
  ticksPerSecond: bigint;
  /** Whole seconds to add to every stamp. */
  offsetSeconds: bigint;
  /** Whether the fields below are set: they need the recording's origin, which is its first frame. */
  based: boolean;
  /** Stamp of the origin in ticks, as two words. Seconds = ((stamp − origin) × multiply − subtract) / divide. */
  high: number;
  low: number;
  multiply: number;
  subtract: number;
  divide: number;
  /** Packets that were no CAN frames. */
  foreign: number;
}

/** Times from 1973 on count as absolute; smaller numbers are times since the recorder started. */
const ABSOLUTE_NS = 100_000_000_000_000_000n;
const NS = 1_000_000_000n;

export class InterfaceTable {
  readonly #into: CaptureBuilder;
  readonly #all: Interface[] = [];
  #section: Interface[] = [];
  #started = false;

  constructor(into: CaptureBuilder) {
    this.#into = into;
  }

  /** Interfaces count from 0 again in each section. */
  newSection(): void {
    this.#section = [];
  }

  get(index: number): Interface | null {
    return this.#section[index] ?? null;
  }

  /** Takes the interface description block at `bytes[p … p + total)`. */
  add(bytes: Uint8Array, p: number, total: number, order: ByteOrder): void {
    const linkType = total >= 20 ? u16(bytes, p + 8, order) : 0;
    const face: Interface = {
      can: linkType === LINKTYPE_CAN_SOCKETCAN,
      linkType,
      name: '',
      bus: 0,
      ticksPerSecond: 1_000_000n,
      offsetSeconds: 0n,
      based: false,
      high: 0,
      low: 0,
      multiply: 1,
      subtract: 0,
      divide: 1,
      foreign: 0,
    };
    let description = '';
    const end = p + total - 4;
    for (let at = p + 16; at + 4 <= end; ) {
      const code = u16(bytes, at, order);
      const size = u16(bytes, at + 2, order);
      const value = at + 4;
      if (code === OPTION.end || value + size > end) break;
      if (code === OPTION.name) face.name = textOf(bytes, value, size);
      else if (code === OPTION.description) description = textOf(bytes, value, size);
      else if (code === OPTION.resolution && size === 1) {
        const exponent = BigInt((bytes[value] as number) & 0x7f);
        // Beyond 10^-19 and 2^-63 s a 64-bit stamp holds no more than a second or two: such a resolution is damage.
        if ((bytes[value] as number) & 0x80) face.ticksPerSecond = 2n ** (exponent > 63n ? 63n : exponent);
        else face.ticksPerSecond = 10n ** (exponent > 19n ? 19n : exponent);
      } else if (code === OPTION.offset && size === 8) {
        const high = u32(bytes, order === 'little' ? value + 4 : value, order) | 0;
        const low = u32(bytes, order === 'little' ? value : value + 4, order);
        face.offsetSeconds = (BigInt(high) << 32n) | BigInt(low);
      }
      at = value + ((size + 3) & ~3);
    }
    face.bus = this.#busOf(face, description);
    this.#section.push(face);
    if (face.can && face.name !== '' && face.name !== `can${face.bus}`) {
      this.#into.busNames.set(face.bus, face.name);
    }
    this.#all.push(face);
  }

  /** Ties the stamps of `face` to the recording's origin; its first frame has the stamp (high, low). */
  setBase(face: Interface, high: number, low: number): void {
    const ticks = face.ticksPerSecond;
    if (!this.#started) {
      this.#started = true;
      const stamp = (BigInt(high) << 32n) | BigInt(low);
      const ns = (stamp * NS) / ticks + face.offsetSeconds * NS;
      if (ns >= ABSOLUTE_NS) this.#into.originNs = ns;
    }
    const sinceOffset = (this.#into.originNs - face.offsetSeconds * NS) * ticks;
    let base = sinceOffset / NS;
    let rest = sinceOffset % NS;
    if (rest < 0n) {
      rest += NS;
      base -= 1n;
    }
    face.high = Number(base >> 32n);
    face.low = Number(base & 0xffff_ffffn);
    if (ticks <= NS && NS % ticks === 0n) {
      // Whole nanoseconds a tick: the sum stays an exact integer and only the division rounds.
      face.multiply = Number(NS / ticks);
      face.subtract = Number(rest / ticks);
      face.divide = 1e9;
    } else {
      face.subtract = Number(rest) / 1e9;
      face.divide = Number(ticks);
    }
    face.based = true;
  }

  /** "2 interfaces in nanoseconds" */
  words(): string {
    const can = this.#all.filter((f) => f.can);
    const resolutions = [...new Set(can.map((f) => f.ticksPerSecond))].map(resolutionWords);
    return `${can.length === 1 ? '1 interface' : `${can.length} interfaces`} in ${resolutions.join(' and ')}`;
  }

  notes(): string[] {
    const foreign = this.#all
      .filter((f) => f.foreign > 0)
      .map(
        (f) =>
          `Packets of interface ${f.name || this.#all.indexOf(f)} were skipped: ${f.foreign} of link type ${f.linkType}, not SocketCAN (${LINKTYPE_CAN_SOCKETCAN}).`,
      );
    const names = [...this.#into.busNames]
      .sort((a, b) => a[0] - b[0])
      .map(([bus, name]) => `${name} = ${bus}`);
    return names.length > 0 ? [...foreign, `Bus names: ${names.join(', ')}.`] : foreign;
  }

  /** Why no frame can come from these interfaces; null where they are not the reason. */
  refusal(): string | null {
    if (this.#all.length === 0) return null;
    const wrong = this.#all.find((f) => !f.can);
    return wrong && this.#all.every((f) => !f.can)
      ? wrongLinkType(wrong.linkType, `of interface ${wrong.name || 0}`)
      : null;
  }

  /** By its description ("bus 3"), its name as in an earlier section, the number its name ends in, or its place. */
  #busOf(face: Interface, description: string): number {
    const stated = Number(/^bus (\d{1,3})$/.exec(description)?.[1] ?? -1);
    if (stated >= 0 && stated <= 255) return stated;
    const before =
      face.name === '' ? undefined : this.#all.find((f) => f.name === face.name && f.can === face.can);
    if (before) return before.bus;
    const place = this.#section.length;
    const numbered = face.name === '' ? place : Number(/(\d{1,3})$/.exec(face.name)?.[1] ?? -1);
    const taken = new Set(this.#section.filter((f) => f.can).map((f) => f.bus));
    if (numbered >= 0 && numbered <= 255 && !taken.has(numbered)) return numbered;
    let free = 0;
    while (free < 255 && taken.has(free)) free++;
    return free;
  }
}

function resolutionWords(ticks: bigint): string {
  const plain: Record<string, string> = {
    '1': 'seconds',
    '1000': 'milliseconds',
    '1000000': 'microseconds',
    '1000000000': 'nanoseconds',
  };
  return plain[ticks.toString()] ?? `1/${ticks} s`;
}

function textOf(bytes: Uint8Array, from: number, size: number): string {
  return new TextDecoder()
    .decode(bytes.subarray(from, from + size))
    .replace(/[^\x20-\x7e\u00a0-\uffff]/g, '');
}
