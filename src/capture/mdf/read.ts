/** Reads a whole MDF 4 file that is in memory: its groups of CAN frames become frames of a capture. */
import { CaptureError } from '../error.ts';
import { RecordLog } from '../socketcan.ts';
import { CaptureBuilder } from '../store.ts';
import { Blocks, FIRST_BLOCK } from './blocks.ts';
import { dataGroups } from './groups.ts';
import { identification } from './identification.ts';
import { mergeParts, type Part } from './merge.ts';
import type { Pages } from './pages.ts';
import { type Plan, planOf, refusal } from './plan.ts';
import { SkipLog } from './skipped.ts';
import { readSource } from './source.ts';
import { Trouble } from './trouble.ts';

export interface MdfRead {
  guess: string;
  notes: string[];
}

/** Part of the work that reading the records is, where they are merged after that. */
const READING = 0.7;

/**
 * Appends the frames of the file to `into`, in steps; each gives the share that is done, 0–1.
 * @throws CaptureError where the bytes are no MDF 4 file or hold no CAN frame
 */
export function* readMdf(pages: Pages, into: CaptureBuilder): Generator<number, MdfRead, undefined> {
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
  const skipped = new SkipLog();
  // Only progress hangs on it: a file that was not finished counts no records.
  const all =
    plan.sources.reduce((sum, { layouts }) => sum + cyclesOf(layouts), 0) || Number.POSITIVE_INFINITY;
  const reading = plan.sources.length === 1 ? 1 : READING;
  let before = 0;
  for (const source of plan.sources) {
    // One source of frames, as most files have, needs no merging.
    const target = plan.sources.length === 1 ? into : new CaptureBuilder(64);
    const steps = readSource(source, target, pages, blocks, trouble, ending, skipped);
    let step = steps.next();
    for (; !step.done; step = steps.next()) yield Math.min(1, (before + step.value) / all) * reading;
    const orders = step.value;
    before += cyclesOf(source.layouts);
    if (plan.sources.length > 1) parts.push({ capture: target.finish(), order: orders });
  }
  for (const share of mergeParts(into, parts)) yield READING + (1 - READING) * share;
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
    notes: [...notes, ...damage, ...skipped.notes(), ...plan.notes, ...backwards(into)],
  };
}

function cyclesOf(layouts: ReadonlyMap<{ cycles: number }, unknown>): number {
  let cycles = 0;
  for (const group of layouts.keys()) cycles += group.cycles;
  return cycles;
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
