/** Figures as they stand in the sentences of evidence. */
import { type BitField, fieldBits } from '../can/bits.ts';

/** 12345 → "12,345". */
export function counted(n: number): string {
  return String(Math.round(n)).replace(/\B(?=(\d{3})+$)/g, ',');
}

/** "1 frame", "2,000 frames". */
export function several(n: number, one: string, many = `${one}s`): string {
  return `${counted(n)} ${n === 1 ? one : many}`;
}

/** A value of so many bits, as 0x1D. */
export function hexOf(value: number, bits: number): string {
  return `0x${value
    .toString(16)
    .toUpperCase()
    .padStart(Math.max(2, Math.ceil(bits / 4)), '0')}`;
}

/** "byte 3" where a field is one, otherwise "bits 12–15" or, counted downward, "bits 19–8, big-endian". */
export function placeWords(field: BitField): string {
  const { start, length, byteOrder } = field;
  if (length === 8 && (byteOrder === 'little' ? start : start + 1) % 8 === 0) return `byte ${start >> 3}`;
  const bits = fieldBits(field);
  const [low, high] = [bits[0] as number, bits[length - 1] as number];
  if (low >> 3 === high >> 3) return `bits ${low}–${high}`;
  return byteOrder === 'little' ? `bits ${low}–${high}` : `bits ${high} to ${low} in big-endian order`;
}

/** The same at the head of a sentence. */
export function placeHead(field: BitField): string {
  const words = placeWords(field);
  return words.charAt(0).toUpperCase() + words.slice(1);
}
