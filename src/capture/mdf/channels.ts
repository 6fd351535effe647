/** Channels of a group (CN blocks and the compositions under them) and the conversions (CC) that frames need. */
import type { Block, Blocks } from './blocks.ts';

export interface Channel {
  at: number;
  name: string;
  /** 0 fixed, 1 variable length, 2 master, 3 virtual master, 4 sync, 5 maximum length, 6 virtual. */
  type: number;
  /** Of a master: 1 time, 2 angle, 3 distance, 4 index. */
  sync: number;
  /** 0/1 unsigned, 2/3 signed, 4/5 floating point (even: little-endian), 10 bytes. */
  dataType: number;
  /** Place in the record, behind the record id: byte, bit in it, bits. */
  byte: number;
  bit: number;
  bits: number;
  flags: number;
  /** Number of its bit among the invalidation bits, where `CHANNEL.hasInvalidBit` is set. */
  invalidBit: number;
  /** Positions of the conversion and of the values of variable length. */
  conversion: number;
  data: number;
}

/** Channel types and flags that matter here. */
export const CHANNEL = {
  fixed: 0,
  variable: 1,
  master: 2,
  virtualMaster: 3,
  maximumLength: 5,
  hasInvalidBit: 2,
  busEvent: 0x400,
} as const;

/** value = multiply × raw ÷ divide + offset; of the two factors one is 1. */
export interface Linear {
  multiply: number;
  divide: number;
  offset: number;
}

/** All channels from the CN block at `first` on, each followed by those of its composition. */
export function channelsOf(blocks: Blocks, first: number, from: string): Channel[] {
  const channels: Channel[] = [];
  const waiting = [{ first, from }];
  for (let next = waiting.pop(); next; next = waiting.pop()) {
    for (const block of blocks.chain(next.first, 'CN', next.from)) {
      channels.push(channelOf(blocks, block));
      const parts = block.links[1] as number;
      if (parts !== 0) waiting.push({ first: parts, from: `The CN block at byte ${block.at}` });
    }
  }
  return channels;
}

/** The conversion of a channel of numbers; null where it is of a kind other than none and linear. */
export function linearOf(blocks: Blocks, channel: Channel): Linear | null {
  const block = blocks.get(channel.conversion, ['CC'], `The CN block at byte ${channel.at}`);
  if (block === null) return channel.conversion === 0 ? { multiply: 1, divide: 1, offset: 0 } : null;
  const view = blocks.view(block, 40);
  const type = view.getUint8(0);
  if (type === 0) return { multiply: 1, divide: 1, offset: 0 };
  if (type !== 1 || view.byteLength < 40) return null;
  const offset = view.getFloat64(24, true);
  const factor = view.getFloat64(32, true);
  if (!Number.isFinite(offset) || !Number.isFinite(factor)) return null;
  // A tick of 1/n s as binary fraction is not exact; dividing by n rounds once, at the end.
  const ticks = Math.round(1 / factor);
  return Number.isFinite(ticks) && 1 / ticks === factor
    ? { multiply: 1, divide: ticks, offset }
    : { multiply: factor, divide: 1, offset };
}

/** Names that a value-to-text conversion (type 7) gives to whole numbers from 0 to 255. */
export function namesOf(blocks: Blocks, channel: Channel): Map<number, string> {
  const names = new Map<number, string>();
  const from = `The CN block at byte ${channel.at}`;
  const block = blocks.get(channel.conversion, ['CC'], from);
  if (block === null) return names;
  const view = blocks.view(block, 24 + 8 * MOST_NAMES);
  if (view.getUint8(0) !== 7) return names;
  const count = Math.min(block.links.length - 4, (view.byteLength - 24) >> 3, MOST_NAMES);
  for (let k = 0; k < count; k++) {
    const value = view.getFloat64(24 + 8 * k, true);
    const link = block.links[4 + k] as number;
    if (!Number.isInteger(value) || value < 0 || value > 255 || link === 0) continue;
    const name = blocks.text(link, `The CC block at byte ${block.at}`);
    if (name !== '') names.set(value, name);
  }
  return names;
}

const MOST_NAMES = 1024;

function channelOf(blocks: Blocks, block: Block): Channel {
  const view = blocks.view(block, 24);
  return {
    at: block.at,
    name: blocks.text(block.links[2] as number, `The CN block at byte ${block.at}`),
    type: view.getUint8(0),
    sync: view.getUint8(1),
    dataType: view.getUint8(2),
    bit: view.getUint8(3),
    byte: view.getUint32(4, true),
    bits: view.getUint32(8, true),
    flags: view.getUint32(12, true),
    invalidBit: view.getUint32(16, true),
    conversion: block.links[4] as number,
    data: block.links[5] as number,
  };
}
