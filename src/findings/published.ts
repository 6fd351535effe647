/**
 * CRC-8 parameter sets that standards publish, for naming what was found; nothing is searched through this list.
 * Source of names and parameters: the CRC catalogue carried by the Debian package python3-crccheck 1.0, and the AUTOSAR
 * SWS CRC Library for the first two. Check values over "123456789" are tested in test/findings/published.test.ts.
 */

export interface PublishedCrc8 {
  name: string;
  poly: number;
  init: number;
  xorout: number;
  reflected: boolean;
  /** CRC of the ASCII digits 1 … 9. */
  check: number;
}

export const PUBLISHED_CRC8: readonly PublishedCrc8[] = [
  { name: 'CRC-8/SAE-J1850', poly: 0x1d, init: 0xff, reflected: false, xorout: 0xff, check: 0x4b },
  { name: 'CRC-8/AUTOSAR', poly: 0x2f, init: 0xff, reflected: false, xorout: 0xff, check: 0xdf },
  { name: 'CRC-8/GSM-A', poly: 0x1d, init: 0x00, reflected: false, xorout: 0x00, check: 0x37 },
  { name: 'CRC-8/OPENSAFETY', poly: 0x2f, init: 0x00, reflected: false, xorout: 0x00, check: 0x3e },
  { name: 'CRC-8/SMBUS', poly: 0x07, init: 0x00, reflected: false, xorout: 0x00, check: 0xf4 },
  { name: 'CRC-8/ROHC', poly: 0x07, init: 0xff, reflected: true, xorout: 0x00, check: 0xd0 },
  { name: 'CRC-8/I-432-1', poly: 0x07, init: 0x00, reflected: false, xorout: 0x55, check: 0xa1 },
  { name: 'CRC-8/TECH-3250', poly: 0x1d, init: 0xff, reflected: true, xorout: 0x00, check: 0x97 },
  { name: 'CRC-8/NRSC-5', poly: 0x31, init: 0xff, reflected: false, xorout: 0x00, check: 0xf7 },
  { name: 'CRC-8/DARC', poly: 0x39, init: 0x00, reflected: true, xorout: 0x00, check: 0x15 },
  { name: 'CRC-8/GSM-B', poly: 0x49, init: 0x00, reflected: false, xorout: 0xff, check: 0x94 },
  { name: 'CRC-8/CDMA2000', poly: 0x9b, init: 0xff, reflected: false, xorout: 0x00, check: 0xda },
  { name: 'CRC-8/LTE', poly: 0x9b, init: 0x00, reflected: false, xorout: 0x00, check: 0xea },
  { name: 'CRC-8/WCDMA', poly: 0x9b, init: 0x00, reflected: true, xorout: 0x00, check: 0x25 },
  { name: 'CRC-8/BLUETOOTH', poly: 0xa7, init: 0x00, reflected: true, xorout: 0x00, check: 0x26 },
  { name: 'CRC-8/DVB-S2', poly: 0xd5, init: 0x00, reflected: false, xorout: 0x00, check: 0xbc },
];

/** Name of the published set with exactly these parameters, empty where there is none. */
export function publishedName(p: Omit<PublishedCrc8, 'name' | 'check'>): string {
  const found = PUBLISHED_CRC8.find(
    (s) => s.poly === p.poly && s.init === p.init && s.xorout === p.xorout && s.reflected === p.reflected,
  );
  return found?.name ?? '';
}
