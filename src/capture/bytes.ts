/** Numbers out of bytes in either order, and pieces of bytes put together. */

export type ByteOrder = 'little' | 'big';

export function u32(bytes: Uint8Array, at: number, order: ByteOrder): number {
  const a = bytes[at] as number;
  const b = bytes[at + 1] as number;
  const c = bytes[at + 2] as number;
  const d = bytes[at + 3] as number;
  return (
    (order === 'little' ? a | (b << 8) | (c << 16) | (d << 24) : d | (c << 8) | (b << 16) | (a << 24)) >>> 0
  );
}

export function u16(bytes: Uint8Array, at: number, order: ByteOrder): number {
  const a = bytes[at] as number;
  const b = bytes[at + 1] as number;
  return order === 'little' ? a | (b << 8) : b | (a << 8);
}

const LITTLE_ENDIAN_MACHINE = new Uint8Array(Uint32Array.of(1).buffer)[0] === 1;

/** Index of the first byte of `bytes` that stands on a 4-byte boundary of its buffer. */
export function firstAligned(bytes: Uint8Array): number {
  return (4 - (bytes.byteOffset & 3)) & 3;
}

/** The whole words of `bytes` from `firstAligned` on, as a view; null where the machine is not little-endian. */
export function alignedWords(bytes: Uint8Array): Uint32Array | null {
  const from = firstAligned(bytes);
  if (!LITTLE_ENDIAN_MACHINE || bytes.length < from) return null;
  return new Uint32Array(bytes.buffer, bytes.byteOffset + from, (bytes.length - from) >> 2);
}

/** `head` followed by `bytes[from … to)`, in a new array. */
export function joined(head: Uint8Array, bytes: Uint8Array, from: number, to: number): Uint8Array {
  const both = new Uint8Array(head.length + to - from);
  both.set(head);
  both.set(bytes.subarray(from, to), head.length);
  return both;
}

/** "0A 0D 0D 0A" */
export function hexBytes(bytes: Uint8Array): string {
  return [...bytes].map((b) => b.toString(16).padStart(2, '0').toUpperCase()).join(' ');
}
