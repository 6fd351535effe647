/** What is fed: the reader of every format, the one that cuts live streams, and those that take a whole file. */
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { readCaptureFile } from '../../src/build/captureFile.ts';
import { FILE_FORMATS } from '../../src/build/fileFormats.ts';
import { CaptureError } from '../../src/capture/error.ts';
import type { CaptureReader } from '../../src/capture/formats/format.ts';
import { FORMATS } from '../../src/capture/formats/list.ts';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import { StreamSplitter } from '../../src/capture/live/index.ts';
import type { Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { besides } from './besides.ts';
import { definitions } from './definitions.ts';
import { parquetSeeds, seedsOf } from './seeds.ts';

export interface Target {
  name: string;
  /** Sound inputs; where a format writes nothing, those of the others have to do. */
  seeds: readonly Uint8Array[];
  /** Takes the input in pieces … */
  open?(into: CaptureBuilder): Pick<CaptureReader, 'push' | 'end'>;
  /** … or whole, packed or not. Throws `CaptureError` where it refuses. */
  whole?(bytes: Uint8Array): Promise<WholeRead>;
  /** Runs of the quick readers for each run of this one, which is slow; default 0: one of the quick ones. */
  seldom?: number;
}

/** What came of an input that was read whole. */
export type WholeRead = { capture: Capture } | { count: number; nonsense: string };

/** All targets; the same for every call. */
export async function targets(): Promise<Target[]> {
  const seeds = new Map(FORMATS.map((format) => [format.name, seedsOf(format)]));
  const all = [...seeds.values()].flat();
  const own = (name: string) => (seeds.get(name)?.length ? (seeds.get(name) as Uint8Array[]) : all);
  const parquet = await parquetSeeds();
  return [
    ...FORMATS.map((format) => ({ name: format.name, seeds: own(format.name), open: format.open })),
    { name: 'live stream', seeds: [...own('pcap'), ...own('pcapng')], open: liveReader },
    ...FILE_FORMATS.map(({ name }) => ({ name, seeds: parquet, whole: asFile, seldom: 40 })),
    ...besides(),
    ...definitions(),
  ];
}

/** Which target has its turn: run `k` goes to entry `k` modulo the length; with `reader`, the one of that name has every turn. */
export function turnsOf(list: readonly Target[], reader?: string): Target[] {
  if (reader !== undefined) {
    const one = list.filter(({ name }) => name === reader);
    if (one.length === 0)
      throw new Error(`no reader "${reader}"; known are ${list.map(({ name }) => name).join(', ')}`);
    return one;
  }
  const quick = list.filter(({ seldom }) => seldom === undefined);
  const slow = list.filter(({ seldom }) => seldom !== undefined);
  const rounds = Math.max(1, ...slow.map(({ seldom }) => seldom ?? 0));
  return [...Array.from({ length: rounds }, () => quick).flat(), ...slow];
}

/** As any recording on a disk is read: recognised by its content, unpacked, refused with its name. */
async function asFile(bytes: Uint8Array): Promise<WholeRead> {
  folder ??= mkdtemp(join(tmpdir(), 'bywright-fuzz-'));
  const path = join(await folder, `input-${next++}`);
  await writeFile(path, bytes);
  try {
    return await readCaptureFile(path);
  } catch (error) {
    if (!(error instanceof CaptureError) || !error.message.startsWith(`${path}: `)) throw error;
    throw new CaptureError(error.message.slice(path.length + 2));
  } finally {
    await rm(path, { force: true });
  }
}

let folder: Promise<string> | null = null;
let next = 0;

/** Removes what `asFile` made. */
export async function tidy(): Promise<void> {
  if (folder !== null) await rm(await folder, { recursive: true, force: true });
  folder = null;
}

/** As `bywright listen` reads: what passes is pcapng without damage, whatever came. */
function liveReader(into: CaptureBuilder): Pick<CaptureReader, 'push' | 'end'> {
  const splitter = new StreamSplitter(0, () => {});
  const reader = pcapng.open(into);
  let passed = 0;
  const take = (blocks: Uint8Array[]) => {
    for (const block of blocks) {
      passed += block.length;
      reader.push(block);
    }
  };
  return {
    push: (piece) => take(splitter.push(piece)),
    end() {
      take(splitter.end('ended'));
      if (passed === 0) return;
      reader.end();
      const damage = reader.notes.find((note) => /^The (last block|block|section|packet) /.test(note));
      if (damage !== undefined) throw new Error(`what passed is damaged: ${damage}`);
    },
  };
}
