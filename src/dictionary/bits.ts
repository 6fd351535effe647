/** Bit fields of payloads: the check fields of `can/` need them too, so they live on that floor. */
export {
  type BitField,
  bytesNeeded,
  type FieldReader,
  fieldBits,
  fieldReader,
  rawRange,
  readBits,
  readBitsBig,
  readRaw,
  readRawBig,
  type Signedness,
  sharedBits,
  writeBits,
  writeBitsBig,
  writeRaw,
} from '../can/bits.ts';
