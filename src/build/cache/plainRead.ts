/** Reads the cache's own Parquet: each column straight from the file into its place in memory. */
import type { FileHandle } from 'node:fs/promises';
import { FLAG } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { type PlainGroup, type PlainLayout, placesOf, type SmallColumn, sumOf } from './plainLayout.ts';

type Columns = Omit<Capture, 'originNs' | 'busNames' | 'count'>;

/**
 * The frames of a file that `writePlain` wrote; null where its columns are not those that were written.
 * @param onGroup called after each row group with the frames so far; what it throws is passed on
 */
export async function readPlain(
  file: FileHandle,
  layout: PlainLayout,
  onGroup: (frames: number) => void = () => {},
): Promise<Omit<Capture, 'originNs' | 'busNames'> | null> {
  const { groups, bytes } = layout;
  if ((await file.stat()).size !== bytes) return null;
  // Before anything is set aside for them: no group claims more than the file holds.
  if (!groups.every((group) => placesOf(group).every((place) => place.at + place.bytes <= bytes)))
    return null;
  const count = groups.reduce((total, { rows }) => total + rows, 0);
  const payloadBytes = groups.reduce((total, { dataBytes }) => total + dataBytes, 0);
  const columns: Columns = {
    time: new Float64Array(count),
    id: new Uint32Array(count),
    bus: new Uint8Array(count),
    flags: new Uint8Array(count),
    length: new Uint8Array(count),
    offset: new Uint32Array(count),
    payload: new Uint8Array(payloadBytes),
  };
  let row = 0;
  let used = 0;
  let ahead = start(file, columns, groups[0], row, used);
  for (const [k, group] of groups.entries()) {
    const parts = await ahead;
    const next = { row: row + group.rows, used: used + group.dataBytes };
    // The next group comes from the disk while this one is looked at.
    ahead = start(file, columns, groups[k + 1], next.row, next.used);
    try {
      if (
        parts === null ||
        sumOf(parts) !== group.sum ||
        placePayloads(columns, group, row, used) !== next.used
      ) {
        await ahead;
        return null;
      }
      ({ row, used } = next);
      onGroup(row);
    } catch (error) {
      await ahead;
      throw error;
    }
  }
  return { count, ...columns };
}

/** Reads the columns of a group into place: the parts that were read, in the order of its sum; null where they end early. Never rejected. */
async function start(
  file: FileHandle,
  columns: Columns,
  group: PlainGroup | undefined,
  row: number,
  used: number,
): Promise<Uint8Array[] | null> {
  if (!group) return [];
  const { rows } = group;
  fill(columns.bus, group.bus, row, rows);
  fill(columns.flags, group.flags, row, rows);
  fill(columns.length, group.length, row, rows);
  const bytes = {
    t: new Uint8Array(columns.time.buffer, 8 * row, 8 * rows),
    id: new Uint8Array(columns.id.buffer, 4 * row, 4 * rows),
    bus: columns.bus.subarray(row, row + rows),
    flags: columns.flags.subarray(row, row + rows),
    length: columns.length.subarray(row, row + rows),
    data: columns.payload.subarray(used, used + group.dataBytes),
  };
  const places = placesOf(group).map(({ column, at }) => ({ part: bytes[column as keyof typeof bytes], at }));
  const whole = await Promise.all(places.map(({ part, at }) => readFully(file, part, at).catch(() => false)));
  return whole.every(Boolean) ? places.map(({ part }) => part) : null;
}

function fill(column: Uint8Array, place: SmallColumn, row: number, rows: number): void {
  // New arrays hold zeros.
  if (typeof place === 'object' && place.all !== 0) column.fill(place.all, row, row + rows);
}

/** Sets where each payload starts; returns where the last one ends. */
function placePayloads(
  { offset, flags, length }: Columns,
  group: PlainGroup,
  row: number,
  before: number,
): number {
  const to = row + group.rows;
  let used = before;
  if (typeof group.length === 'object' && typeof group.flags === 'object') {
    const each = (group.flags.all & FLAG.remote) !== 0 ? 0 : group.length.all;
    for (let i = row; i < to; i++) {
      offset[i] = used;
      used += each;
    }
    return used;
  }
  for (let i = row; i < to; i++) {
    offset[i] = used;
    if (((flags[i] as number) & FLAG.remote) === 0) used += length[i] as number;
  }
  return used;
}

/** Whether the whole part could be read. */
async function readFully(file: FileHandle, part: Uint8Array, from: number): Promise<boolean> {
  let got = 0;
  while (got < part.length) {
    const { bytesRead } = await file.read(part, got, part.length - got, from + got);
    if (bytesRead === 0) return false;
    got += bytesRead;
  }
  return true;
}
