/** Runs of a fuzz campaign: input number `run` of a seed is the same wherever and whenever it is made. */
import { gzipSync } from 'node:zlib';
import { feed, type Limits, type Outcome } from './feed.ts';
import { mutated, piecesOf } from './mutate.ts';
import { randomOf } from './random.ts';
import { type Target, targets, tidy, turnsOf } from './targets.ts';

export interface Failure {
  run: number;
  target: string;
  outcome: Outcome;
  why: string;
}

export interface Tally {
  runs: number;
  gzip: number;
  outcomes: Record<Outcome, number>;
  frames: number;
  slowestMs: number;
  slowestRun: number;
  mostBytes: number;
}

export type Tallies = Record<string, Tally>;

export interface Campaign {
  tallies: Tallies;
  failures: Failure[];
}

/** Failures beyond this are counted, not kept. */
const KEPT = 20;
/** One input in so many is packed, half of them spoilt before packing and half after. */
const GZIP_EVERY = 40;

export function emptyTally(): Tally {
  return {
    runs: 0,
    gzip: 0,
    outcomes: { read: 0, refused: 0, crash: 0, nonsense: 0, slow: 0, memory: 0 },
    frames: 0,
    slowestMs: 0,
    slowestRun: -1,
    mostBytes: 0,
  };
}

/** Runs `from … to − 1`, with `reader` all for the one of that name; `starting` is called before each. */
export async function fuzz(
  seed: number,
  from: number,
  to: number,
  limits: Limits,
  starting: (run: number) => void = () => {},
  reader?: string,
): Promise<Campaign> {
  const all = await targets();
  const list = turnsOf(all, reader);
  const others = all.flatMap(({ seeds }) => seeds);
  const campaign: Campaign = { tallies: {}, failures: [] };
  for (let run = from; run < to; run++) {
    const { target, pieces, packed } = inputOf(seed, run, list, others);
    starting(run);
    let fed = await feed(target, pieces, packed, limits);
    // On a busy machine anything can be slow once: only what is slow each time counts.
    for (let again = 0; again < 2 && fed.outcome === 'slow'; again++)
      fed = await feed(target, pieces, packed, limits);
    campaign.tallies[target.name] ??= emptyTally();
    const tally = campaign.tallies[target.name] as Tally;
    tally.runs++;
    if (packed === 'gzip') tally.gzip++;
    tally.outcomes[fed.outcome]++;
    tally.frames += fed.frames;
    if (fed.ms > tally.slowestMs) [tally.slowestMs, tally.slowestRun] = [fed.ms, run];
    tally.mostBytes = Math.max(tally.mostBytes, fed.bytes);
    if (fed.outcome !== 'read' && fed.outcome !== 'refused' && campaign.failures.length < KEPT)
      campaign.failures.push({ run, target: target.name, outcome: fed.outcome, why: fed.why });
  }
  await tidy();
  return campaign;
}

/** The input of one run: for which reader, its bytes in pieces, and whether they are packed. */
export function inputOf(seed: number, run: number, list: readonly Target[], others: readonly Uint8Array[]) {
  const target = list[run % list.length] as Target;
  const random = randomOf(seed, run);
  const start = random.of(random.unit() < 0.95 ? target.seeds : others);
  const packed = random.below(GZIP_EVERY) === 0 ? ('gzip' as const) : ('plain' as const);
  const bytes =
    packed === 'plain'
      ? mutated(start, others, random)
      : random.unit() < 0.5
        ? new Uint8Array(gzipSync(mutated(start, others, random)))
        : mutated(new Uint8Array(gzipSync(start)), others, random);
  return { target, pieces: piecesOf(bytes, random), packed };
}

export function added(a: Tallies, b: Tallies): Tallies {
  const sum: Tallies = structuredClone(a);
  for (const [name, tally] of Object.entries(b)) {
    sum[name] ??= emptyTally();
    const into = sum[name] as Tally;
    into.runs += tally.runs;
    into.gzip += tally.gzip;
    into.frames += tally.frames;
    for (const outcome of Object.keys(tally.outcomes) as Outcome[])
      into.outcomes[outcome] += tally.outcomes[outcome];
    if (tally.slowestMs > into.slowestMs) {
      into.slowestMs = tally.slowestMs;
      into.slowestRun = tally.slowestRun;
    }
    into.mostBytes = Math.max(into.mostBytes, tally.mostBytes);
  }
  return sum;
}
