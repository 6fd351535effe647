/** What is fed: the reader of every format in the list, and the one that cuts live streams. */
import type { CaptureReader } from '../../src/capture/formats/format.ts';
import { FORMATS } from '../../src/capture/formats/list.ts';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import { StreamSplitter } from '../../src/capture/live/index.ts';
import type { CaptureBuilder } from '../../src/capture/store.ts';
import { seedsOf } from './seeds.ts';

export interface Target {
  name: string;
  /** Sound inputs; where a format writes nothing, those of the others have to do. */
  seeds: readonly Uint8Array[];
  open(into: CaptureBuilder): Pick<CaptureReader, 'push' | 'end'>;
}

export function targets(): Target[] {
  const seeds = new Map(FORMATS.map((format) => [format.name, seedsOf(format)]));
  const all = [...seeds.values()].flat();
  const own = (name: string) => (seeds.get(name)?.length ? (seeds.get(name) as Uint8Array[]) : all);
  return [
    ...FORMATS.map((format) => ({ name: format.name, seeds: own(format.name), open: format.open })),
    { name: 'live stream', seeds: [...own('pcap'), ...own('pcapng')], open: liveReader },
  ];
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
