/**
 * Messages longer than a frame: ISO 15765-2, SAE J1939 transport and NMEA 2000 fast packets. Each receiver takes the
 * frames of one sender one by one and hands whole transfers, and faults with reason and place, to a `TransferSink`.
 * Pure; which identifiers carry what is decided by the caller.
 */
export * from './fastPacket.ts';
export * from './isotp.ts';
export * from './isotpAddress.ts';
export * from './isotpSend.ts';
export * from './j1939Transport.ts';
export * from './sink.ts';
