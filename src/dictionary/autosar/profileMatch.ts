/** Which end-to-end profile of AUTOSAR a counter and check field are, where they are one. */
import { crcTable } from '../../can/crc.ts';
import { camelKeys } from '../case.ts';
import type { Check, Message } from '../model.ts';
import { same } from '../same.ts';
import { checkSchema, counterSchema } from '../schema.ts';
import { type ProfileSettings, profileFields } from './profiles.ts';

/** null where the pair is none of the profiles, to the last field. */
export function profileOf({ counter, check }: Message): ProfileSettings | null {
  if (counter === undefined || check === undefined) return null;
  for (const settings of candidates(check, counter.start)) {
    const found = profileFields(settings, 0);
    if (typeof found === 'string') continue;
    const [c, k] = [counterSchema.safeParse(found.counter), checkSchema.safeParse(found.check)];
    if (!c.success || !k.success) continue;
    if (same(camelKeys(c.data), bare(counter)) && same(camelKeys(k.data), bare(check))) return settings;
  }
  return null;
}

/** What the profiles would be set to if the fields were theirs; `profileOf` then looks whether they are. */
function candidates(check: Check, counterStart: number): ProfileSettings[] {
  const { start, length, prefix, suffix, perCounter } = check;
  const [first = 0, second = 0] = prefix.length > 0 ? prefix : suffix;
  const common = {
    mode: '',
    crcOffset: start,
    counterOffset: counterStart,
    offset: start,
    bytes: check.covers.length + length / 8,
  };
  const list = check.poly === 0x2f ? dataIdList(perCounter) : null;
  return [
    { ...common, profile: 'PROFILE_11', mode: 'ALL-16-BIT', dataIds: [first + 256 * second] },
    { ...common, profile: 'PROFILE_01', mode: 'LOWER-8-BIT', dataIds: [first] },
    { ...common, profile: 'PROFILE_05', dataIds: [first + 256 * second] },
    { ...common, profile: 'PROFILE_06', dataIds: [256 * first + second], offset: start - 7 },
    ...(list === null ? [] : [{ ...common, profile: 'PROFILE_22', dataIds: list }]),
  ];
}

/** The bytes whose contributions to the CRC are these constants. */
function dataIdList(constants: readonly number[] | null): number[] | null {
  if (constants === null || constants.length !== 16) return null;
  const table = Array.from(crcTable({ width: 8, poly: 0x2f, reflected: false }));
  const list = constants.map((constant) => table.indexOf(constant));
  return list.includes(-1) ? null : list;
}

function bare(field: object): object {
  return Object.fromEntries(
    Object.entries(field).filter(([key, value]) => key !== 'evidence' && value !== undefined),
  );
}
