/** Sound recordings to begin from: small invented captures of every kind, as each format writes them. */
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writePlain } from '../../src/build/cache/plainWrite.ts';
import { openDuckDb, quoted } from '../../src/build/parquet/duckdb.ts';
import { parquet } from '../../src/build/parquet/parquetFile.ts';
import { FLAG } from '../../src/can/frame.ts';
import { CaptureError } from '../../src/capture/error.ts';
import type { CaptureFormat, WriteOptions } from '../../src/capture/formats/format.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { type Random, randomOf } from './random.ts';

/** What `format` makes of the captures that it can hold, packed in every way it knows; empty where it writes none. */
export function seedsOf(format: CaptureFormat): Uint8Array[] {
  if (!format.write) return [];
  const seeds = new Map<string, Uint8Array>();
  for (const capture of CAPTURES)
    for (const packing of ['none', 'deflate', 'transposed'] as const) {
      const bytes = written(format, capture, { packing });
      if (bytes !== null) seeds.set(Buffer.from(bytes).toString('latin1'), bytes);
    }
  return [...seeds.values()];
}

/** Parquet as the project writes it for others and for its cache, and as others may write it: columns of other names and types. */
export async function parquetSeeds(): Promise<Uint8Array[]> {
  const folder = await mkdtemp(join(tmpdir(), 'bywright-fuzz-'));
  const path = join(folder, 'seed.parquet');
  try {
    const seeds: Uint8Array[] = [];
    for (const capture of CAPTURES) {
      await parquet.write(path, capture);
      seeds.push(
        new Uint8Array(await readFile(path)),
        new Uint8Array(Buffer.concat([...writePlain(capture)])),
      );
    }
    const db = await openDuckDb();
    try {
      for (const columns of FOREIGN) {
        await db.connection.run(
          `copy (select ${columns} from range(30) r(i)) to ${quoted(path)} (format parquet)`,
        );
        seeds.push(new Uint8Array(await readFile(path)));
      }
    } finally {
      db.close();
    }
    return seeds;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

const FOREIGN = [
  `i / 100 as time, i % 2 as channel, printf('%x', 256 + i % 8) as id, 'f90' || (i % 10) as data`,
  `make_timestamp_ns(1700000000000000000 + i * 1000000) as timestamp, 256 + i % 8 as id, unhex('f900') as data`,
];

function written(format: CaptureFormat, capture: Capture, options: WriteOptions): Uint8Array | null {
  try {
    return new Uint8Array(Buffer.concat([...(format.write?.(capture, options) ?? [])]));
  } catch (error) {
    // Not every format holds every capture: pcap, for one, holds a single bus.
    if (error instanceof CaptureError) return null;
    throw error;
  }
}

type Kind = 'data' | 'extended' | 'remote' | 'error' | 'fd' | 'sent';

const PLANS: readonly {
  frames: number;
  kinds: readonly Kind[];
  buses: number;
  originNs: bigint;
  names?: string;
}[] = [
  { frames: 1, kinds: ['data'], buses: 1, originNs: 0n },
  { frames: 12, kinds: ['data'], buses: 1, originNs: 1_764_000_000_123_456_789n },
  { frames: 40, kinds: ['data', 'extended'], buses: 1, originNs: 0n },
  { frames: 20, kinds: ['data', 'remote', 'error', 'sent'], buses: 1, originNs: 1_764_000_000_000_000_000n },
  { frames: 15, kinds: ['fd', 'data'], buses: 1, originNs: 0n },
  {
    frames: 30,
    kinds: ['data', 'extended', 'fd', 'remote', 'error'],
    buses: 3,
    originNs: 0n,
    names: 'chassis',
  },
  { frames: 60, kinds: ['data'], buses: 2, originNs: 1_764_000_000_000_000_000n },
];

const CAPTURES: readonly Capture[] = PLANS.map((plan, k) => {
  const random = randomOf(20080611, k);
  const builder = new CaptureBuilder();
  builder.originNs = plan.originNs;
  if (plan.names) builder.busNames.set(1, plan.names);
  let ns = 0;
  for (let i = 0; i < plan.frames; i++) {
    addFrame(builder, random.of(plan.kinds), ns / 1e9, random.below(plan.buses), random);
    ns += 100_000 + random.below(10_000_000);
  }
  return builder.finish();
});

function addFrame(builder: CaptureBuilder, kind: Kind, time: number, bus: number, random: Random): void {
  const flags: Record<Kind, number> = {
    data: 0,
    extended: FLAG.extended,
    remote: FLAG.remote,
    error: FLAG.error,
    fd: FLAG.fd | FLAG.bitRateSwitch,
    sent: FLAG.sent,
  };
  const length = kind === 'error' ? 8 : kind === 'fd' ? random.of([8, 12, 24, 64]) : random.below(9);
  const data = Uint8Array.from({ length }, () => random.below(256));
  const id = kind === 'extended' ? 0x18ff_0000 + random.below(8) : 0x100 + random.below(8);
  builder.add(time, bus, id, flags[kind], length, data, 0, kind === 'remote' ? 0 : length);
}
