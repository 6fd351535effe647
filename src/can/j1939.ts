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

/** PDU formats from here on carry no destination. */
const BROADCAST_FORMAT = 240;
