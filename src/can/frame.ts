/**
 * Identifiers and flags of CAN frames, as ISO 11898-1 names them.
 *
 * An identifier is an unsigned integer: 11 bits for a base frame, 29 bits for an extended one. Which of the two it is
 * travels in the flags, because 0x123 exists in both forms and the two are different messages.
 */

/** Frame properties, or-ed together into one byte. */
export const FLAG = {
  /** 29-bit identifier. */
  extended: 1,
  /** Remote frame: carries a length but no payload. */
  remote: 2,
  /** Error message of the controller, not a frame from the bus. */
  error: 4,
  /** CAN FD frame. */
  fd: 8,
  /** FD: payload sent at the data bit rate. */
  bitRateSwitch: 16,
  /** FD: the sender is error passive. */
  errorState: 32,
  /** Sent by the recorder itself rather than received. */
  sent: 64,
} as const;

export const MAX_BASE_ID = 0x7ff;
export const MAX_EXTENDED_ID = 0x1fff_ffff;

/**
 * One number that tells base and extended identifiers apart: the identifier, with bit 31 set when it is extended.
 * Returned unsigned, so that it can key a Map and sit in a Uint32Array.
 */
export function idKey(id: number, flags: number): number {
  return (flags & FLAG.extended ? id | 0x8000_0000 : id) >>> 0;
}

/** Text form used in every file and on every page: 3 hex digits for 11 bits, 8 for 29 bits. */
export function formatId(id: number, extended: boolean): string {
  return id
    .toString(16)
    .toUpperCase()
    .padStart(extended ? 8 : 3, '0');
}

/** Payload lengths that a frame can have: 0–8, and for CAN FD also 12, 16, 20, 24, 32, 48, 64 (ISO 11898-1). */
export function isPayloadLength(length: number, fd: boolean): boolean {
  if (length >= 0 && length <= 8) return Number.isInteger(length);
  return fd && [12, 16, 20, 24, 32, 48, 64].includes(length);
}
