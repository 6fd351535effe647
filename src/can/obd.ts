/**
 * Values of SAE J1979 (ISO 15031-5) mode 01 that a car answers over CAN: a second source of speed, engine speed and
 * pedal beside what is being worked out. Only answers that fit a single frame; byte A is the first after the PID.
 */

export interface ObdKind {
  pid: number;
  name: string;
  unit: string;
  /** Bytes of the value. */
  bytes: number;
  /** value = raw × scale + offset; raw is unsigned, most significant byte first. */
  scale: number;
  offset: number;
}

export interface ObdValue {
  kind: ObdKind;
  value: number;
}

/** In order of their PID. Formulas: SAE J1979 mode 01 as public PID tables give them. */
export const OBD_KINDS: readonly ObdKind[] = [
  { pid: 0x04, name: 'calculated load', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x05, name: 'coolant temperature', unit: '°C', bytes: 1, scale: 1, offset: -40 },
  { pid: 0x0b, name: 'manifold pressure', unit: 'kPa', bytes: 1, scale: 1, offset: 0 },
  { pid: 0x0c, name: 'engine speed', unit: '1/min', bytes: 2, scale: 0.25, offset: 0 },
  { pid: 0x0d, name: 'vehicle speed', unit: 'km/h', bytes: 1, scale: 1, offset: 0 },
  { pid: 0x0e, name: 'timing advance', unit: '°', bytes: 1, scale: 0.5, offset: -64 },
  { pid: 0x0f, name: 'intake air temperature', unit: '°C', bytes: 1, scale: 1, offset: -40 },
  { pid: 0x10, name: 'air flow', unit: 'g/s', bytes: 2, scale: 0.01, offset: 0 },
  { pid: 0x11, name: 'throttle position', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x2f, name: 'fuel level', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x45, name: 'relative throttle position', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x49, name: 'pedal position D', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x4a, name: 'pedal position E', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x4b, name: 'pedal position F', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x5a, name: 'relative pedal position', unit: '%', bytes: 1, scale: 100 / 255, offset: 0 },
  { pid: 0x61, name: 'demanded engine torque', unit: '%', bytes: 1, scale: 1, offset: -125 },
  { pid: 0x62, name: 'actual engine torque', unit: '%', bytes: 1, scale: 1, offset: -125 },
  { pid: 0x63, name: 'reference engine torque', unit: 'N·m', bytes: 2, scale: 1, offset: 0 },
];

/**
 * Values in a single-frame answer to mode 01 (`04 41 0C 1A F8 …`), which may hold several; none when the frame is no
 * such answer. Reading stops at the first PID that is not in the table, because its length is not known.
 */
export function obdValues(payload: Uint8Array, from: number, length: number): ObdValue[] {
  return obdAnswerValues(answerBytes(payload, from, length));
}

/**
 * The same for a whole answer that begins with 41, of any length: as ISO 15765-2 frames were put together. Empty where it
 * is no answer to mode 01.
 */
export function obdAnswerValues(answer: Uint8Array): ObdValue[] {
  const values: ObdValue[] = [];
  if (answer[0] !== 0x41) return values;
  let at = 1;
  while (at < answer.length) {
    const kind = OBD_KINDS.find((k) => k.pid === answer[at]);
    if (!kind || at + kind.bytes >= answer.length) break;
    let raw = 0;
    for (let i = 1; i <= kind.bytes; i++) raw = raw * 256 + (answer[at + i] as number);
    values.push({ kind, value: raw * kind.scale + kind.offset });
    at += 1 + kind.bytes;
  }
  return values;
}

/**
 * PIDs that a unit says it supports, from its answer to PID 00, 20, 40 or 60: the top bit of the first byte stands for
 * the next PID, the lowest bit of the fourth for the last. Empty when the frame is no such answer.
 */
export function obdSupported(payload: Uint8Array, from: number, length: number): number[] {
  const answer = answerBytes(payload, from, length);
  const base = answer[1];
  if (base === undefined || base % 0x20 !== 0 || answer.length < 6) return [];
  const pids: number[] = [];
  for (let i = 0; i < 32; i++) {
    if (((answer[2 + (i >> 3)] as number) >> (7 - (i & 7))) & 1) pids.push(base + 1 + i);
  }
  return pids;
}

/** The bytes of a mode 01 answer from the 0x41 on, or none. Single frame: first byte 0N, N of 1–7 (ISO 15765-2). */
function answerBytes(payload: Uint8Array, from: number, length: number): Uint8Array {
  const used = length > 0 ? (payload[from] as number) : 0;
  if (used < 3 || used > 7 || used >= length || payload[from + 1] !== 0x41) return new Uint8Array(0);
  return payload.subarray(from + 1, from + 1 + used);
}
