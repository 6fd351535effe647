/** Numbers in records: where a channel stands and how it is read. */

export interface Field {
  /** Byte in the record (behind its id), lowest bit in that byte, bits. */
  byte: number;
  bit: number;
  bits: number;
  order: 'little' | 'big';
  kind: 'unsigned' | 'signed' | 'float';
}

/** The field of a channel; null where its data type is no number or it has a size that none has. */
export function fieldOf(channel: {
  byte: number;
  bit: number;
  bits: number;
  dataType: number;
}): Field | null {
  const { byte, bit, bits, dataType } = channel;
  if (dataType > 5 || bits === 0 || bits > 64 || bit > 7) return null;
  const kind = dataType < 2 ? 'unsigned' : dataType < 4 ? 'signed' : 'float';
  if (kind === 'float' && (bit !== 0 || (bits !== 32 && bits !== 64))) return null;
  return { byte, bit, bits, order: dataType % 2 === 0 ? 'little' : 'big', kind };
}

/** Bytes that a record must have for the field. */
export function fieldEnd(field: Field): number {
  return field.byte + ((field.bit + field.bits + 7) >> 3);
}

/** The number in the record that starts at `p`. Integers beyond 2^53 are rounded. */
export function read(bytes: Uint8Array, p: number, field: Field): number {
  const { bit, bits, order, kind } = field;
  const at = p + field.byte;
  const count = (bit + bits + 7) >> 3;
  if (count === 1 && kind === 'unsigned') return ((bytes[at] as number) >>> bit) & ((1 << bits) - 1);
  if (kind === 'float') {
    for (let k = 0; k < count; k++) scratchBytes[k] = bytes[at + k] as number;
    const little = order === 'little';
    return bits === 64 ? scratch.getFloat64(0, little) : scratch.getFloat32(0, little);
  }
  if (count === 8 && bits === 64 && kind === 'unsigned') {
    const little = order === 'little';
    for (let k = 0; k < 8; k++) scratchBytes[k] = bytes[at + k] as number;
    // The high word is exact, so that only the sum rounds.
    return (
      scratch.getUint32(little ? 4 : 0, little) * 0x1_0000_0000 + scratch.getUint32(little ? 0 : 4, little)
    );
  }
  if (bit + bits <= 48) {
    let value = 0;
    if (order === 'little')
      for (let k = count - 1; k >= 0; k--) value = value * 256 + (bytes[at + k] as number);
    else for (let k = 0; k < count; k++) value = value * 256 + (bytes[at + k] as number);
    value = Math.floor(value / 2 ** bit) % 2 ** bits;
    return kind === 'signed' && value >= 2 ** (bits - 1) ? value - 2 ** bits : value;
  }
  let wide = 0n;
  for (let k = 0; k < count; k++) {
    wide = (wide << 8n) | BigInt(bytes[at + (order === 'little' ? count - 1 - k : k)] as number);
  }
  wide >>= BigInt(bit);
  return Number(kind === 'signed' ? BigInt.asIntN(bits, wide) : BigInt.asUintN(bits, wide));
}

const scratchBytes = new Uint8Array(8);
const scratch = new DataView(scratchBytes.buffer);
