/**
 * Ties the clock of this computer to the stamps of a stream, so that a key press finds its place in the recording.
 * A frame arrives late or on time, never early: the least lateness of the last minute is the tie.
 */

/** Half of the time after which old frames no longer count, so that clocks may drift apart. */
const WINDOW_S = 30;

export class ClockTie {
  #least = Number.POSITIVE_INFINITY;
  #leastBefore = Number.POSITIVE_INFINITY;
  #windowFrom = Number.NaN;

  /** A frame with stamp `timeS` arrived when this computer's clock (any origin, rising) showed `nowS`. */
  arrived(timeS: number, nowS: number): void {
    if (!(nowS - this.#windowFrom < WINDOW_S)) {
      this.#leastBefore = this.#least;
      this.#least = Number.POSITIVE_INFINITY;
      this.#windowFrom = nowS;
    }
    this.#least = Math.min(this.#least, nowS - timeS);
  }

  /** The clock of the stream began anew. */
  restart(): void {
    this.#least = Number.POSITIVE_INFINITY;
    this.#leastBefore = Number.POSITIVE_INFINITY;
    this.#windowFrom = Number.NaN;
  }

  /** What stamp a frame sent now would carry; null before the first frame. */
  timeAt(nowS: number): number | null {
    const tie = Math.min(this.#least, this.#leastBefore);
    return Number.isFinite(tie) ? nowS - tie : null;
  }
}
