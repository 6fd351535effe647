/** pcap and pcapng recordings put together by hand, for tests: nothing here comes from the writers under test. */

export type Order = 'little' | 'big';

export function u32(value: number, order: Order): number[] {
  const bytes = [value & 255, (value >>> 8) & 255, (value >>> 16) & 255, (value >>> 24) & 255];
  return order === 'little' ? bytes : bytes.reverse();
}

export function u16(value: number, order: Order): number[] {
  const bytes = [value & 255, (value >>> 8) & 255];
  return order === 'little' ? bytes : bytes.reverse();
}

export function u64(value: bigint, order: Order): number[] {
  const bytes = Array.from({ length: 8 }, (_, k) =>
    Number((BigInt.asUintN(64, value) >> BigInt(8 * k)) & 255n),
  );
  return order === 'little' ? bytes : bytes.reverse();
}

export interface PcapRecord {
  seconds: number;
  fraction: number;
  data: number[];
  captured?: number;
  original?: number;
}

export function pcapBytes(
  records: readonly PcapRecord[],
  { order = 'little' as Order, magic = 0xa1b2_3c4d, linkType = 227 } = {},
): Uint8Array {
  return Uint8Array.from([
    ...u32(magic, order),
    ...u16(2, order),
    ...u16(4, order),
    ...u32(0, order),
    ...u32(0, order),
    ...u32(262144, order),
    ...u32(linkType, order),
    ...records.flatMap((r) => [
      ...u32(r.seconds, order),
      ...u32(r.fraction, order),
      ...u32(r.captured ?? r.data.length, order),
      ...u32(r.original ?? r.data.length, order),
      ...r.data,
    ]),
  ]);
}

/** A block of pcapng around `body`, padded. */
export function block(type: number, body: readonly number[], order: Order = 'little'): number[] {
  const padded = [...body, ...Array(-body.length & 3).fill(0)];
  const total = 12 + padded.length;
  return [...u32(type, order), ...u32(total, order), ...padded, ...u32(total, order)];
}

export function section(order: Order = 'little', major = 1, minor = 0): number[] {
  return block(
    0x0a0d_0d0a,
    [...u32(0x1a2b_3c4d, order), ...u16(major, order), ...u16(minor, order), ...u64(-1n, order)],
    order,
  );
}

export function option(code: number, value: readonly number[], order: Order = 'little'): number[] {
  return [...u16(code, order), ...u16(value.length, order), ...value, ...Array(-value.length & 3).fill(0)];
}

export function face({
  order = 'little' as Order,
  linkType = 227,
  name = '',
  resolution = -1,
  offset = 0n,
  extra = [] as number[],
} = {}): number[] {
  return block(
    1,
    [
      ...u16(linkType, order),
      ...u16(0, order),
      ...u32(0, order),
      ...(name ? option(2, [...new TextEncoder().encode(name)], order) : []),
      ...extra,
      ...(resolution >= 0 ? option(9, [resolution], order) : []),
      ...(offset !== 0n ? option(14, u64(offset, order), order) : []),
      ...option(0, [], order),
    ],
    order,
  );
}

export function packet(
  index: number,
  stamp: bigint,
  data: readonly number[],
  {
    order = 'little' as Order,
    options = [] as number[],
    original = data.length,
    captured = data.length,
  } = {},
): number[] {
  return block(
    6,
    [
      ...u32(index, order),
      ...u32(Number(BigInt.asUintN(64, stamp) >> 32n), order),
      ...u32(Number(stamp & 0xffff_ffffn), order),
      ...u32(captured, order),
      ...u32(original, order),
      ...data,
      ...Array(-data.length & 3).fill(0),
      ...options,
    ],
    order,
  );
}

/** A SocketCAN record of a classical frame, padded to 16 bytes as the Linux kernel does. */
export function socketcan(word: number, payload: readonly number[]): number[] {
  return [...u32(word, 'big'), payload.length, 0, 0, 0, ...payload, ...Array(8 - payload.length).fill(0)];
}
