/**
 * 29-bit identifiers as SAE J1939, ISO 11783 and NMEA 2000 divide them (layout also in the Linux kernel's
 * Documentation/networking/j1939.rst): priority in bits 28–26, extended data page 25, data page 24, PDU format 23–16,
 * PDU specific 15–8, source address 7–0.
 */

export interface J1939Id {
  /** 0 (first) … 7. */
  priority: number;
  /** Parameter group number, 18 bits; its low byte is 0 where the identifier holds a destination instead. */
  parameterGroup: number;
  source: number;
  /** Address the message is meant for: 0–253 a unit, 255 all; groups without a destination go to all. */
  destination: number;
}

/** Parts of a 29-bit identifier. */
export function j1939Parts(id: number): J1939Id {
  const format = (id >>> 16) & 0xff;
  const specific = (id >>> 8) & 0xff;
  const page = (id >>> 24) & 3;
  const toOne = format < BROADCAST_FORMAT;
  return {
    priority: (id >>> 26) & 7,
    parameterGroup: (page << 16) | (format << 8) | (toOne ? 0 : specific),
    source: id & 0xff,
    destination: toOne ? specific : 255,
  };
}

/** The 29-bit identifier that has these parts; the destination is left out where the group has none. */
export function j1939Id(parts: J1939Id): number {
  const { priority, parameterGroup, source, destination } = parts;
  const toOne = ((parameterGroup >>> 8) & 0xff) < BROADCAST_FORMAT;
  const group = toOne ? (parameterGroup & 0x3ff00) | (destination & 0xff) : parameterGroup & 0x3ffff;
  return (((priority & 7) << 26) | (group << 8) | (source & 0xff)) >>> 0;
}

/**
 * Check field (0–7) of the torque and speed control command TSC1, in the upper half of its last byte: over bytes 1–7, the
 * counter in the lower half of byte 8, and the four bytes of the identifier (rule of the SAE text as two public threads
 * quote it). One engine manual (PEC017) leaves the mask out: `unmasked`. Listen before you choose.
 */
export function controlChecksum(
  id: number,
  payload: Uint8Array,
  from: number,
  form: 'masked' | 'unmasked' = 'masked',
): number {
  let sum = (payload[from + 7] as number) & 15;
  for (let k = 0; k < 7; k++) sum += payload[from + k] as number;
  for (let shift = 0; shift < 32; shift += 8) sum += (id >>> shift) & 0xff;
  const high = form === 'masked' ? (sum >> 6) & 3 : sum >> 6;
  return (high + (sum >> 3) + sum) & 7;
}

/** PDU formats from here on carry no destination. */
const BROADCAST_FORMAT = 240;
