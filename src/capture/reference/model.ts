/** A measured series recorded beside a capture, and what a reader of one tells. */

export interface ReferenceSeries {
  name: string;
  /** As it stands in the file; empty where the file does not say. */
  unit: string;
  /**
   * Seconds, strictly rising, on the clock of the recorder: since `originNs` where the file has dates, since the first row
   * where it has the time of day, else as the file counts.
   */
  timeS: Float64Array;
  /** One value a time; NaN where the recorder had none, so that a gap stays a gap. Same length. */
  value: Float64Array;
  /** Time of the first row in nanoseconds since 1970 (UTC); null where the file does not say. */
  originNs: bigint | null;
}

/** Something in the file that is not as it should be, with its place. */
export interface ReferenceProblem {
  /** 1-based; 0 where the whole file is meant. */
  line: number;
  column: number;
  found: string;
  expected: string;
  /** A caution cost one row or value; without this the file cannot be used. */
  weight?: 'caution';
}

export interface ReferenceRead {
  /** One entry a column of values; empty where the file cannot be used. */
  series: ReferenceSeries[];
  /** How the times were read, in words: "time in ms (column t), told by its step". */
  guess: string;
  /** How sure that is: 1 where the file says it, else the odds against the other units. */
  confidence: number;
  problems: ReferenceProblem[];
}

/** Problems of one kind are told this often and then counted. */
const TOLD = 5;

/** Collects problems; after the first few of a kind only their number is told. */
export class ProblemList {
  readonly #list: ReferenceProblem[] = [];
  readonly #counts = new Map<string, number>();

  caution(kind: string, line: number, column: number, found: string, expected: string): void {
    const count = (this.#counts.get(kind) ?? 0) + 1;
    this.#counts.set(kind, count);
    if (count <= TOLD) this.#list.push({ line, column, found, expected, weight: 'caution' });
  }

  error(line: number, column: number, found: string, expected: string): void {
    this.#list.push({ line, column, found, expected });
  }

  finish(): ReferenceProblem[] {
    for (const [kind, count] of this.#counts) {
      if (count <= TOLD) continue;
      const found = `${count - TOLD} more of this kind: ${kind}`;
      this.#list.push({ line: 0, column: 0, found, expected: 'the same as above', weight: 'caution' });
    }
    return this.#list;
  }
}

/** Text of a file, short enough for one line. */
export function shown(text: string): string {
  const plain = text.replace(/\p{Cc}/gu, '·');
  return `"${plain.length > 40 ? `${plain.slice(0, 39)}…` : plain}"`;
}
