/**
 * Error frames between the two forms that they have: MDF's ErrorType (1 bit, 2 form, 3 stuff, 4 CRC, 5 acknowledge,
 * 0 other) and the error message of SocketCAN, classes in its identifier and details in 8 bytes. Values of the latter from
 * memory of the Linux kernel header linux/can/error.h.
 */

/** Classes in the identifier. */
const PROTOCOL = 0x08;
const NO_ACKNOWLEDGE = 0x20;
const UNSPECIFIED_DETAIL = 0;
/** Byte 2 of a protocol violation: its kind; byte 3: where in the frame. */
const DETAIL: Record<number, number> = { 1: 0x01, 2: 0x02, 3: 0x04 };
const IN_CRC = 0x08;

/** The ErrorType of an error message. */
export function errorTypeOf(id: number, data: Uint8Array): number {
  if (id & PROTOCOL) {
    if (data[3] === IN_CRC) return 4;
    for (const [type, detail] of Object.entries(DETAIL))
      if (((data[2] as number) & detail) !== 0) return Number(type);
  }
  return id & NO_ACKNOWLEDGE ? 5 : 0;
}

/** The error message for an ErrorType: its identifier, and its 8 bytes into `data`. */
export function errorMessageOf(type: number, data: Uint8Array): number {
  data.fill(0);
  if (type === 5) return NO_ACKNOWLEDGE;
  data[2] = DETAIL[type] ?? UNSPECIFIED_DETAIL;
  data[3] = type === 4 ? IN_CRC : 0;
  return PROTOCOL;
}
