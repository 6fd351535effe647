/** Reads the frames of one data group. */
import type { CaptureBuilder } from '../store.ts';
import type { Blocks } from './blocks.ts';
import { type Ending, pieces } from './dataBlocks.ts';
import { FrameTaker } from './frames.ts';
import type { ChannelGroup } from './groups.ts';
import type { Pages } from './pages.ts';
import type { Source } from './plan.ts';
import { type RecordUse, readSorted, readUnsorted, ValueCollector } from './records.ts';
import type { SkipLog } from './skipped.ts';
import type { Trouble } from './trouble.ts';

/**
 * Reads the frames of one data group into `into`; returns their places in the recording, where all kinds hold them. Each
 * step gives the number of records read so far.
 */
export function* readSource(
  { group, stream, layouts, values }: Source,
  into: CaptureBuilder,
  pages: Pages,
  blocks: Blocks,
  trouble: Trouble,
  ending: Ending,
  skipped: SkipLog,
): Generator<number, Uint32Array | null, undefined> {
  const collected = new Map<number, ValueCollector>();
  for (const [link, valueStream] of values) {
    const collector = new ValueCollector();
    for (const piece of pieces(valueStream, pages, blocks, trouble, ending)) {
      collector.addRaw(piece);
      yield 0;
    }
    collected.set(link, collector);
  }
  const records = () => pieces(stream, pages, blocks, trouble, ending);
  const inGroup = new Map(group.groups.filter((g) => g.variable).map((g) => [g.at, g]));
  const byId = new Map<number, ValueCollector>();
  for (const { payload } of layouts.values()) {
    const owner = payload.kind === 'values' ? inGroup.get(payload.link) : undefined;
    if (!owner || byId.has(owner.recordId)) continue;
    const collector = new ValueCollector();
    byId.set(owner.recordId, collector);
    collected.set(owner.at, collector);
  }
  // Values may stand before or behind the records that point to them: all are collected first.
  const nothing: RecordUse = { frames: new Map(), values: byId };
  if (byId.size > 0 && group.recordIdSize > 0)
    for (const _ of readUnsorted(records(), group, nothing, trouble)) yield 0;
  const takers = new Map<ChannelGroup, FrameTaker>();
  const taken = () => {
    let sum = 0;
    for (const taker of takers.values()) sum += taker.records;
    return sum;
  };
  for (const [one, layout] of layouts) {
    const found = layout.payload.kind === 'values' ? collected.get(layout.payload.link) : undefined;
    takers.set(one, new FrameTaker(layout, into, found?.bytes ?? null, skipped));
  }
  const [first] = takers;
  if (group.recordIdSize === 0) {
    if (!first) return null;
    const [one, taker] = first;
    if (group.groups.length > 1) {
      trouble.say(
        `The DG block at byte ${group.at} has no record ids and ${group.groups.length} groups; only the first was read`,
      );
    }
    if (one !== group.groups[0]) return null;
    // Without a count, or in a file that was not finished, the data itself says how many there are.
    const most = one.cycles === 0 || ending === 'unfinalised' ? Number.POSITIVE_INFINITY : one.cycles;
    for (const _ of readSorted(records(), taker.layout.size, most, taker)) yield taken();
  } else {
    const byRecord = new Map([...takers].map(([one, taker]) => [one.recordId, taker]));
    const use = { frames: byRecord, values: new Map() };
    for (const _ of readUnsorted(records(), group, use, trouble)) yield taken();
  }
  for (const [one, taker] of takers) {
    if (taker.records < one.cycles && ending === 'finalised') {
      trouble.say(
        `The group of ${taker.layout.kind} frames at byte ${one.at} counts ${one.cycles} records, of which ${taker.records} are there`,
      );
    }
  }
  return takers.size === 1 && first ? first[1].order : null;
}
