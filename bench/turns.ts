/** Peers measured in turns on a machine that others use too: what slows one of a turn slows the other, and the median turn counts. */
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';

setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc') as () => void;

export interface Timing {
  /** Seconds by the clock, and of all processors; turn by turn. */
  clock: number[];
  processor: number[];
}

/** A run that is another program measures itself: seconds by the clock and of all processors. */
export type Run = () => Promise<Own | unknown>;

export class Own {
  readonly clock: number;
  readonly processor: number;

  constructor(clock: number, processor: number) {
    this.clock = clock;
    this.processor = processor;
  }
}

/** Lets each of `runs` have its turn `turns` times. What the one before left is collected first. */
export async function inTurns(turns: number, runs: readonly Run[]): Promise<Timing[]> {
  const timings = runs.map((): Timing => ({ clock: [], processor: [] }));
  for (let k = 0; k < turns; k++) {
    for (const [r, run] of runs.entries()) {
      collect();
      const [start, used] = [performance.now(), process.cpuUsage()];
      const own = await run();
      const { user, system } = process.cpuUsage(used);
      const { clock, processor } = timings[r] as Timing;
      clock.push(own instanceof Own ? own.clock : (performance.now() - start) / 1000);
      processor.push(own instanceof Own ? own.processor : (user + system) / 1e6);
    }
  }
  return timings;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const at = sorted.length >> 1;
  return sorted.length % 2 === 1
    ? (sorted[at] as number)
    : ((sorted[at - 1] as number) + (sorted[at] as number)) / 2;
}

/** "1.52 × (1.31 to 1.70)": how many times as long as `ours` the peer took, the median turn and the outermost. */
export function times(peer: readonly number[], ours: readonly number[]): string {
  const ratios = peer.map((seconds, k) => seconds / (ours[k] as number));
  const [low, high] = [Math.min(...ratios), Math.max(...ratios)];
  return `${short(median(ratios))} × (${short(low)} to ${short(high)} in ${ratios.length} turns)`;
}

function short(value: number): string {
  return value.toFixed(value < 10 ? 2 : 0);
}
