/** Reads a whole MDF 4 file that is in memory: its groups of CAN frames become frames of a capture. */
import { hexBytes } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { RecordLog } from '../socketcan.ts';
import { CaptureBuilder } from '../store.ts';
import { Blocks, FIRST_BLOCK } from './blocks.ts';
import { type FrameLayout, meaningOf } from './busLogging.ts';
import { type DataStream, dataStream, type Ending, pieces } from './dataBlocks.ts';
import { FrameTaker } from './frames.ts';
import { type ChannelGroup, type DataGroup, dataGroups } from './groups.ts';
import { mergeParts, type Part } from './merge.ts';
import type { Pages } from './pages.ts';
import { type RecordUse, readSorted, readUnsorted, ValueCollector } from './records.ts';
import { Trouble } from './trouble.ts';

export interface MdfRead {
  guess: string;
  notes: string[];
}

/**
 * Appends the frames of the file to `into`.
 * @throws CaptureError where the bytes are no MDF 4 file or hold no CAN frame
 */
export function readMdf(pages: Pages, into: CaptureBuilder): MdfRead {
  const { version, ending } = identification(pages);
  const trouble = new Trouble();
  const blocks = new Blocks(pages, trouble);
  const notes: string[] = [];
  if (ending === 'unfinalised') {
    notes.push('The recorder did not finish this file (UnFinMF): it was read as far as it goes.');
  }
  const header = blocks.get(FIRST_BLOCK, ['HD'], 'The identification block');
  const start = header ? blocks.view(header, 13) : null;
  if (start !== null) into.originNs = start.getBigUint64(0, true);
  if (start !== null && into.originNs > 0n && (start.getUint8(12) & 1) !== 0) {
    notes.push('The start is the local time of the recorder, with no time zone; it was taken as UTC.');
  }
  const groups = header ? dataGroups(blocks, header.links[0] as number) : [];
  const plan = planOf(blocks, groups);
  const parts: Part[] = [];
  for (const source of plan.sources) {
    // One source of frames, as most files have, needs no merging.
    const target = plan.sources.length === 1 ? into : new CaptureBuilder();
    const orders = readSource(source, target, pages, blocks, trouble, ending, notes);
    if (plan.sources.length > 1) parts.push({ capture: target.finish(), order: orders });
  }
  mergeParts(into, parts);
  for (const { layouts } of plan.sources) {
    for (const layout of layouts.values()) {
      for (const [bus, name] of layout.busNames) into.busNames.set(bus, name);
    }
  }
  for (const [bus, name] of plan.sourceNames) into.busNames.set(bus, name);
  if (into.count === 0) throw new CaptureError(refusal(trouble, plan, groups));
  const damage = trouble.notes();
  if (damage.length > 0) {
    const kept =
      into.count === 1 ? 'the one frame that could be read is kept' : `${into.count} frames are kept`;
    damage[damage.length - 1] = `${(damage.at(-1) as string).slice(0, -1)}; ${kept}.`;
  }
  return {
    guess: guessOf(version, plan, into),
    notes: [...notes, ...damage, ...plan.notes, ...backwards(into)],
  };
}

/** A data group with at least one kind of CAN frames in it. */
interface Source {
  group: DataGroup;
  stream: DataStream;
  layouts: Map<ChannelGroup, FrameLayout>;
  /** Values of variable length that stand in data blocks of their own, by the position that is linked. */
  values: Map<number, DataStream>;
}

interface Plan {
  sources: Source[];
  /** Names of groups of other buses, and how many channels were only measured. */
  notes: string[];
  others: string[];
  measured: string[];
  unreadable: string[];
  /** Buses that are told apart by the name of their source alone. */
  sourceNames: Map<number, string>;
}

/** Finds what each group holds, and follows all links to data before any is read. */
function planOf(blocks: Blocks, groups: readonly DataGroup[]): Plan {
  const plan: Plan = {
    sources: [],
    notes: [],
    others: [],
    measured: [],
    unreadable: [],
    sourceNames: new Map(),
  };
  const busOfSource = new Map<string, number>();
  for (const group of groups) {
    const layouts = new Map<ChannelGroup, FrameLayout>();
    for (const one of group.groups) {
      if (one.variable) continue;
      const bus = busOfSource.get(one.source) ?? Math.min(255, busOfSource.size);
      const meaning = meaningOf(blocks, one, bus);
      if (meaning.is === 'frames') {
        layouts.set(one, meaning.layout);
        if (meaning.layout.bus === null) {
          busOfSource.set(one.source, bus);
          if (one.source !== '') plan.sourceNames.set(bus, one.source);
        }
      } else if (meaning.is === 'unreadable') plan.unreadable.push(meaning.reason);
      else if (meaning.is === 'otherEvents') plan.others.push(meaning.name);
      else plan.measured.push(...one.channels.map((c) => c.name).filter((name) => name !== ''));
    }
    if (layouts.size === 0) continue;
    const where = `The DG block at byte ${group.at}`;
    if (![0, 1, 2, 4, 8].includes(group.recordIdSize)) {
      plan.unreadable.push(
        `${where} has record ids of ${group.recordIdSize} bytes; right would be 0, 1, 2, 4 or 8`,
      );
      continue;
    }
    const source: Source = {
      group,
      stream: dataStream(blocks, group.data, where),
      layouts,
      values: new Map(),
    };
    const inGroup = new Set(group.groups.map((g) => g.at));
    for (const { payload } of layouts.values()) {
      if (payload.kind !== 'values' || payload.link === 0 || inGroup.has(payload.link)) continue;
      if (!source.values.has(payload.link)) {
        source.values.set(payload.link, dataStream(blocks, payload.link, 'The channel DataBytes'));
      }
    }
    plan.sources.push(source);
  }
  if (plan.others.length > 0) {
    plan.notes.push(`Groups of events that are no CAN frames were passed over: ${listed(plan.others)}.`);
  }
  if (plan.measured.length > 0 && plan.sources.length > 0) {
    plan.notes.push(`Measured channels were passed over: ${listed(plan.measured)}.`);
  }
  plan.notes.push(...plan.unreadable.map((reason) => `${reason}; it was passed over.`));
  return plan;
}

/** Reads the frames of one data group into `into`; returns their places in the recording, where all kinds hold them. */
function readSource(
  { group, stream, layouts, values }: Source,
  into: CaptureBuilder,
  pages: Pages,
  blocks: Blocks,
  trouble: Trouble,
  ending: Ending,
  notes: string[],
): Uint32Array | null {
  const collected = new Map<number, ValueCollector>();
  for (const [link, valueStream] of values) {
    const collector = new ValueCollector();
    for (const piece of pieces(valueStream, pages, blocks, trouble, ending)) collector.addRaw(piece);
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
  if (byId.size > 0 && group.recordIdSize > 0) readUnsorted(records(), group, nothing, trouble);
  const takers = new Map<ChannelGroup, FrameTaker>();
  for (const [one, layout] of layouts) {
    const found = layout.payload.kind === 'values' ? collected.get(layout.payload.link) : undefined;
    takers.set(one, new FrameTaker(layout, into, found ?? null));
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
    readSorted(records(), taker.layout.size, most, taker);
  } else {
    const byRecord = new Map([...takers].map(([one, taker]) => [one.recordId, taker]));
    readUnsorted(records(), group, { frames: byRecord, values: new Map() }, trouble);
  }
  for (const [one, taker] of takers) {
    if (taker.records < one.cycles && ending === 'finalised') {
      trouble.say(
        `The group of ${taker.layout.kind} frames at byte ${one.at} counts ${one.cycles} records, of which ${taker.records} are there`,
      );
    }
    notes.push(...skippedNotes(taker));
  }
  return takers.size === 1 && first ? first[1].order : null;
}

function skippedNotes({ skipped, layout }: FrameTaker): string[] {
  const say = (count: number, why: string) =>
    count === 0 ? [] : [`Records of ${layout.kind} frames were skipped: ${count} ${why}.`];
  return [
    ...say(skipped.length, 'with a payload length that no frame has'),
    ...say(skipped.time, 'without a time'),
    ...say(skipped.invalid, 'that the recorder marked as invalid'),
    ...say(skipped.noValue, 'whose payload lies outside the values of the file'),
  ];
}

/** The identification block: "MDF     " or "UnFinMF ", and the version at 28. */
function identification(pages: Pages): { version: number; ending: Ending } {
  if (pages.length === 0) throw new CaptureError('The recording is empty: 0 bytes.');
  const head = pages.bytes(0, Math.min(FIRST_BLOCK, pages.length));
  const magic = String.fromCharCode(...head.subarray(0, 8));
  if (!MAGICS.some((known) => known.startsWith(magic))) {
    throw new CaptureError(
      `This is not MDF: it starts with ${hexBytes(head.subarray(0, 8))} at byte 0; right would be 4D 44 46 20 20 20 20 20 ("MDF     ").`,
    );
  }
  if (head.length < FIRST_BLOCK) {
    throw new CaptureError(
      `The MDF identification is cut short: it has 64 bytes and the recording ends after ${head.length}.`,
    );
  }
  const version = (head[28] as number) | ((head[29] as number) << 8);
  if (version < 400 || version >= 500) {
    throw new CaptureError(
      `This is MDF of version ${(version / 100).toFixed(2)}; right would be 4.00 or a later 4.x, which recorders and converters can write.`,
    );
  }
  return { version, ending: magic === MAGICS[1] ? 'unfinalised' : 'finalised' };
}

export const MAGICS = ['MDF     ', 'UnFinMF '] as const;

function refusal(trouble: Trouble, plan: Plan, groups: readonly DataGroup[]): string {
  const [unreadable] = plan.unreadable;
  if (trouble.first !== null) return `${trouble.first}; no frame could be read.`;
  if (unreadable !== undefined) return `${unreadable}; no frame could be read.`;
  if (plan.sources.length > 0) return 'The MDF file has groups for CAN frames and no frame in them.';
  if (plan.others.length > 0) {
    return `The MDF file holds events of other kinds (${listed(plan.others)}) and no CAN frames; right would be CAN_DataFrame groups, as a CAN bus logger writes them.`;
  }
  if (groups.length === 0) return 'The MDF file holds no data groups, so no frames.';
  return `The MDF file holds measured channels only (${listed(plan.measured)}) and no bus events; right would be CAN_DataFrame groups, as a bus logger writes them.`;
}

function listed(names: readonly string[]): string {
  const distinct = [...new Set(names)];
  const shown = distinct.slice(0, 3).map((name) => name.slice(0, 60));
  return distinct.length > shown.length
    ? `${shown.join(', ')} and ${distinct.length - shown.length} more`
    : shown.join(', ');
}

/** "MDF 4.10, CAN data and error frames, sorted, packed" */
function guessOf(version: number, { sources }: Plan, into: CaptureBuilder): string {
  const kinds = [...new Set(sources.flatMap((s) => [...s.layouts.values()].map((l) => l.kind)))];
  const words = [
    `MDF ${(version / 100).toFixed(2)}`,
    `CAN ${kinds.join(' and ')} frames`,
    sources.some((s) => s.group.recordIdSize > 0) ? 'unsorted' : 'sorted',
  ];
  if (sources.some((s) => s.stream.packed)) words.push('packed');
  if (into.originNs === 0n) words.push('relative times');
  return words.join(', ');
}

function backwards(into: CaptureBuilder): string[] {
  const log = new RecordLog();
  const { time } = into.reserve(0, 0);
  for (let i = 1; i < into.count; i++) {
    if ((time[i] as number) < (time[i - 1] as number)) log.wentBack(i);
  }
  return log.notes();
}
