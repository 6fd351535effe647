/**
 * Services and negative answers of ISO 14229 (UDS) and the modes of SAE J1979. Numbers as a public UDS library's service
 * files give them (github pylessard/python-udsoncan); the words are ours, after the names in the standard.
 */

/** What the first bytes of a diagnostic message say. */
export type DiagnosticHead =
  | { kind: 'request'; service: number }
  | { kind: 'answer'; service: number }
  /** `code` is the reason, `pending` means that the real answer is still to come. */
  | { kind: 'refusal'; service: number; code: number; pending: boolean };

/** Service of a message; null where the bytes are no diagnostic message. */
export function diagnosticHead(bytes: Uint8Array, from: number, length: number): DiagnosticHead | null {
  if (length < 1) return null;
  const first = bytes[from] as number;
  if (first === NEGATIVE) {
    if (length < 3) return null;
    const code = bytes[from + 2] as number;
    return { kind: 'refusal', service: bytes[from + 1] as number, code, pending: code === PENDING };
  }
  const service = first & ~ANSWER_BIT;
  if (!(service in SERVICES)) return null;
  return { kind: first & ANSWER_BIT ? 'answer' : 'request', service };
}

/** Name of a service, or its number where the standards have none. */
export function serviceName(service: number): string {
  return SERVICES[service] ?? `service ${hex(service)}`;
}

/** What a negative answer means, or its number where the standard has none. */
export function refusalName(code: number): string {
  return REFUSALS[code] ?? `reason ${hex(code)}`;
}

/** Whether a request asks that a positive answer be left out: bit 7 of its subfunction. */
export function wantsNoAnswer(bytes: Uint8Array, from: number, length: number): boolean {
  return (
    length >= 2 && WITH_SUBFUNCTION.has(bytes[from] as number) && ((bytes[from + 1] as number) & 0x80) !== 0
  );
}

/** By number. Modes 01–0A are of SAE J1979, the others of ISO 14229. */
export const SERVICES: Readonly<Record<number, string>> = {
  1: 'current values',
  2: 'freeze frame values',
  3: 'stored emission trouble codes',
  4: 'clear emission trouble codes',
  5: 'oxygen sensor results',
  6: 'monitor results',
  7: 'pending emission trouble codes',
  8: 'control of a device',
  9: 'vehicle information',
  10: 'permanent emission trouble codes',
  16: 'session control',
  17: 'reset',
  20: 'clear trouble codes',
  25: 'read trouble codes',
  34: 'read by identifier',
  35: 'read memory',
  36: 'read scaling',
  39: 'security access',
  40: 'communication control',
  41: 'authentication',
  42: 'periodic values',
  44: 'define values',
  46: 'write by identifier',
  47: 'input and output control',
  49: 'routine control',
  52: 'request download',
  53: 'request upload',
  54: 'transfer data',
  55: 'transfer exit',
  56: 'file transfer',
  61: 'write memory',
  62: 'tester present',
  131: 'timing parameters',
  132: 'secured transmission',
  133: 'trouble code setting',
  134: 'answer on event',
  135: 'link control',
};

/** By number. */
export const REFUSALS: Readonly<Record<number, string>> = {
  16: 'refused without a reason',
  17: 'service not supported',
  18: 'subfunction not supported',
  19: 'wrong length or format',
  20: 'answer too long',
  33: 'busy, repeat the request',
  34: 'conditions not right',
  36: 'wrong order of requests',
  37: 'no answer from the part behind',
  38: 'a failure prevents it',
  49: 'out of range',
  51: 'security access denied',
  52: 'authentication required',
  53: 'wrong key',
  54: 'too many attempts',
  55: 'delay not over yet',
  112: 'upload or download not accepted',
  113: 'transfer suspended',
  114: 'programming failed',
  115: 'wrong block number',
  120: 'answer pending',
  126: 'subfunction not in this session',
  127: 'service not in this session',
  129: 'engine speed too high',
  130: 'engine speed too low',
  131: 'engine is running',
  132: 'engine is not running',
  133: 'engine run time too short',
  134: 'temperature too high',
  135: 'temperature too low',
  136: 'speed too high',
  137: 'speed too low',
  138: 'throttle or pedal too high',
  139: 'throttle or pedal too low',
  140: 'transmission not in neutral',
  141: 'transmission not in gear',
  143: 'brake switch not closed',
  144: 'lever not in park',
  145: 'torque converter locked',
  146: 'voltage too high',
  147: 'voltage too low',
};

/** First byte of a negative answer; a positive one has bit 6 set beside the service. */
const NEGATIVE = 0x7f;
const ANSWER_BIT = 0x40;
const PENDING = 0x78;
/** Services whose second byte is a subfunction (from memory). */
const WITH_SUBFUNCTION = new Set([
  0x10, 0x11, 0x19, 0x27, 0x28, 0x29, 0x2c, 0x31, 0x3e, 0x83, 0x85, 0x86, 0x87,
]);

function hex(n: number): string {
  return n.toString(16).toUpperCase().padStart(2, '0');
}
