/** What a file holds and what of it is read: found before any record is. */
import type { Blocks } from './blocks.ts';
import { type FrameLayout, meaningOf } from './busLogging.ts';
import { type DataStream, dataStream } from './dataBlocks.ts';
import type { ChannelGroup, DataGroup } from './groups.ts';
import type { Trouble } from './trouble.ts';

/** A data group with at least one kind of CAN frames in it. */
export interface Source {
  group: DataGroup;
  stream: DataStream;
  layouts: Map<ChannelGroup, FrameLayout>;
  /** Values of variable length that stand in data blocks of their own, by the position that is linked. */
  values: Map<number, DataStream>;
}

export interface Plan {
  sources: Source[];
  /** What was passed over, in sentences. */
  notes: string[];
  /** Names of events that are no CAN frames, and of measured channels. */
  others: string[];
  measured: string[];
  /** Why groups of CAN frames cannot be read. */
  unreadable: string[];
  /** Buses that are told apart by the name of their source alone. */
  sourceNames: Map<number, string>;
}

/** Finds what each group holds, and follows all links to data before any is read. */
export function planOf(blocks: Blocks, groups: readonly DataGroup[]): Plan {
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
      else for (const { name } of one.channels) if (name !== '') plan.measured.push(name);
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
  plan.notes.push(...plan.unreadable.slice(0, MOST_NOTES).map((reason) => `${reason}; it was passed over.`));
  if (plan.unreadable.length > MOST_NOTES) {
    plan.notes.push(`More such groups: ${plan.unreadable.length - MOST_NOTES}.`);
  }
  return plan;
}

/** Groups that cannot be read are named one by one up to here. */
const MOST_NOTES = 8;

/** Why the file gave no frame, in one sentence. */
export function refusal(trouble: Trouble, plan: Plan, groups: readonly DataGroup[]): string {
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
