/**
 * Requests for a parameter group and their acknowledgements (SAE J1939-21): identifiers as in the Linux kernel's
 * Documentation/networking/j1939.rst, payloads from memory, and as a public field database lays them out (test/outside).
 */

/** PDU formats. */
export const PARAMETER_REQUEST = 0xea;
export const ACKNOWLEDGEMENT = 0xe8;

/** Longest wait for an answer, seconds (T3, from memory). */
export const ANSWER_WAIT_S = 1.25;
/** Within this time an answer is due, seconds (Tr, from memory). */
export const ANSWER_DUE_S = 0.2;

/** Control byte of an acknowledgement, from memory: 0 done, 1 refused, 2 access denied, 3 cannot answer now. */
export const ACKNOWLEDGEMENTS = ['acknowledged', 'refused', 'denied', 'busy'] as const;

/** The group asked for, or −1 where the payload is no request: three bytes, low byte first, and nothing but padding behind. */
export function requestedGroup(payload: Uint8Array, from: number, length: number): number {
  if (length < 3 || length > 8) return -1;
  for (let k = 3; k < length; k++) if (payload[from + k] !== 0xff) return -1;
  return groupAt(payload, from);
}

export interface Acknowledgement {
  /** Place in `ACKNOWLEDGEMENTS`. */
  control: number;
  group: number;
  /** Address of the unit that had asked; 255 where the sender does not say. */
  asker: number;
}

export function acknowledgementIn(payload: Uint8Array, from: number, length: number): Acknowledgement | null {
  if (length !== 8) return null;
  const control = payload[from] as number;
  const group = groupAt(payload, from + 5);
  if (control >= ACKNOWLEDGEMENTS.length || group < 0) return null;
  return { control, group, asker: payload[from + 4] as number };
}

/** A group of 18 bits; one that is sent to a destination has no low byte. */
function groupAt(payload: Uint8Array, from: number): number {
  const group =
    (payload[from] as number) | ((payload[from + 1] as number) << 8) | ((payload[from + 2] as number) << 16);
  if (group > 0x3ffff) return -1;
  return ((group >>> 8) & 0xff) < 240 && (group & 0xff) !== 0 ? -1 : group;
}
