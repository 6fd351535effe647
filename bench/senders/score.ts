/** How well groups of messages agree with known senders, and the peer that has skew alone. */

export interface PairScore {
  precision: number;
  recall: number;
  f1: number;
}

/** Pairs of messages put together against pairs that are: `found` and `truth` by message; null in `found`: alone. */
export function scorePairs(found: readonly (number | null)[], truth: readonly number[]): PairScore {
  let both = 0;
  let foundOnly = 0;
  let trueOnly = 0;
  for (let i = 0; i < truth.length; i++) {
    for (let j = i + 1; j < truth.length; j++) {
      const together = found[i] !== null && found[i] === found[j];
      const same = truth[i] === truth[j];
      if (together && same) both++;
      else if (together) foundOnly++;
      else if (same) trueOnly++;
    }
  }
  return {
    precision: both / Math.max(1, both + foundOnly),
    recall: both / Math.max(1, both + trueOnly),
    f1: both === 0 ? 0 : (2 * both) / (2 * both + foundOnly + trueOnly),
  };
}

/**
 * The peer: each message's skew against the nearest usual period, neighbours in skew joined below a threshold, and that
 * threshold chosen with the truth at hand. No method without the truth can know it.
 */
export function skewAlone(periodS: readonly number[], truth: readonly number[]): PairScore {
  const skew = periodS.map((p) => (p / nearestUsual(p) - 1) * 1e6);
  const order = skew.map((_, i) => i).sort((a, b) => (skew[a] as number) - (skew[b] as number));
  let best: PairScore = { precision: 0, recall: 0, f1: 0 };
  for (let threshold = 0.02; threshold < 5000; threshold *= 1.15) {
    const found = new Array<number>(skew.length).fill(0);
    let group = 0;
    order.forEach((i, k) => {
      if (k > 0 && (skew[i] as number) - (skew[order[k - 1] as number] as number) > threshold) group++;
      found[i] = group;
    });
    const score = scorePairs(found, truth);
    if (score.f1 > best.f1) best = score;
  }
  return best;
}

const USUAL_MS = [
  5, 10, 12.5, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500, 600, 800,
];

function nearestUsual(periodS: number): number {
  const usual = [...USUAL_MS, ...Array.from({ length: 30 }, (_, k) => 1000 * (k + 1))].map((ms) => ms / 1000);
  return usual.reduce((best, u) => (Math.abs(periodS / u - 1) < Math.abs(periodS / best - 1) ? u : best));
}

/** Mean stated probability and share that was right, by class of stated probability. */
export class Calibration {
  static readonly edges = [0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 1.000001];
  readonly stated = new Float64Array(Calibration.edges.length - 1);
  readonly right = new Float64Array(Calibration.edges.length - 1);
  readonly count = new Float64Array(Calibration.edges.length - 1);

  add(probability: number, same: number): void {
    const k = Math.max(0, Calibration.edges.findIndex((edge) => probability < edge) - 1);
    this.stated[k] = (this.stated[k] as number) + probability;
    this.right[k] = (this.right[k] as number) + same;
    this.count[k] = (this.count[k] as number) + 1;
  }

  join(other: Calibration): void {
    for (let k = 0; k < this.count.length; k++) {
      this.stated[k] = (this.stated[k] as number) + (other.stated[k] as number);
      this.right[k] = (this.right[k] as number) + (other.right[k] as number);
      this.count[k] = (this.count[k] as number) + (other.count[k] as number);
    }
  }

  /** "0.95 → 0.93 (120)" by class. */
  words(): string[] {
    return Array.from(this.count, (n, k) =>
      n === 0
        ? '–'
        : `${((this.stated[k] as number) / n).toFixed(3)} → ${((this.right[k] as number) / n).toFixed(3)} (${n})`,
    );
  }
}
