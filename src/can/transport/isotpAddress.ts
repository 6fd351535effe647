/**
 * Which identifiers carry diagnostics by the standards, and who answers whom: SAE J1979 / ISO 15765-4 for 11 bits, the
 * fixed 29-bit forms of ISO 15765-2. From memory; the pair 18DAxxF1 / 18DAF1xx was also seen in a public recording.
 */
import { FLAG } from '../frame.ts';

export interface IsoTpAddress {
  /** `functional`: to all units at once, single frames only. */
  to: 'unit' | 'functional' | 'tester';
  /** Payload byte that holds the frame type. */
  typeAt: 0 | 1;
  /** Identifier of the other side, −1 for a functional one. */
  peer: number;
}

/** How a standard identifier is used for diagnostics; null for any other. */
export function isoTpAddress(id: number, flags: number): IsoTpAddress | null {
  if ((flags & FLAG.extended) === 0) {
    if (id === 0x7df) return { to: 'functional', typeAt: 0, peer: -1 };
    if (id >= 0x7e0 && id <= 0x7e7) return { to: 'unit', typeAt: 0, peer: id + 8 };
    if (id >= 0x7e8 && id <= 0x7ef) return { to: 'tester', typeAt: 0, peer: id - 8 };
    return null;
  }
  const format = (id >>> 16) & 0x3ff;
  const typeAt = format === 0xce || format === 0xcd ? 1 : 0;
  if (format === 0xdb || format === 0xcd) return { to: 'functional', typeAt, peer: -1 };
  if (format !== 0xda && format !== 0xce) return null;
  const target = (id >>> 8) & 0xff;
  const source = id & 0xff;
  const peer = ((id & 0x1fff_0000) | (source << 8) | target) >>> 0;
  return { to: target >= TESTERS && source < TESTERS ? 'tester' : 'unit', typeAt, peer };
}

/** Source addresses of test equipment: F1 … FD. */
const TESTERS = 0xf1;
