/**
 * What is true of every CAN bus, whatever the car: frames and identifiers, bit fields of payloads, check fields and
 * CRCs, the length of a frame on the wire, and the public layers on top (J1939 identifiers, transfers of several frames,
 * diagnostic services, OBD values).
 * Pure functions over numbers and byte arrays; imports from no other room.
 */
export * from './bits.ts';
export * from './check.ts';
export * from './crc.ts';
export * from './diagnostics.ts';
export * from './frame.ts';
export * from './j1939.ts';
export * from './length.ts';
export * from './obd.ts';
export * from './transport/index.ts';
