/** Silences of a live stream: when one is long enough to be told, and what its end says of what is missing. */

/** A stream that gives nothing for this long has stalled, seconds, unless another time is asked for. */
export const STALL_S = 3;

/** A step of the stamps that is this much shorter than the silence shows that frames were only held back. */
const HELD_BACK = 0.5;

export class Silence {
  readonly #stallS: number;
  #lastBytesS: number;
  #state: 'no' | 'stalled' | 'over' = 'no';
  #beforeFrames = 0;
  #beforeTimeS = Number.NaN;
  #lastedS = 0;

  constructor(stallS: number, nowS: number) {
    this.#stallS = stallS;
    this.#lastBytesS = nowS;
  }

  quietS(nowS: number): number {
    return nowS - this.#lastBytesS;
  }

  /** Counts anew: a sender is waited for. */
  begin(nowS: number): void {
    this.#lastBytesS = nowS;
  }

  /** Whether the silence has just become long enough to be told. `frames` and `timeS` are those of the recording so far. */
  stalls(nowS: number, frames: number, timeS: number): boolean {
    if (this.#state === 'stalled' || this.quietS(nowS) < this.#stallS) return false;
    if (this.#state === 'no') {
      this.#beforeFrames = frames;
      this.#beforeTimeS = timeS;
    }
    this.#state = 'stalled';
    return true;
  }

  /** Bytes came; how long they did not, where that was a stall. */
  came(nowS: number): number | null {
    const quietS = this.quietS(nowS);
    this.#lastBytesS = nowS;
    if (this.#state !== 'stalled') return null;
    this.#state = 'over';
    this.#lastedS = quietS;
    return quietS;
  }

  /** Frames came, the first of them at `timeS`; a sentence where a stall ended with them. */
  framesCame(timeS: number): string | null {
    if (this.#state !== 'over') return null;
    this.#state = 'no';
    if (this.#beforeFrames === 0) return null;
    const stepS = timeS - this.#beforeTimeS;
    const head = `Nothing came for ${this.#lastedS.toFixed(1)} s after frame ${this.#beforeFrames - 1}`;
    // What a clock that went back or was set says is told by itself.
    if (stepS < 0)
      return `${head}; the clock of the stream is another since, so what is missing cannot be told.`;
    return stepS < HELD_BACK * this.#lastedS
      ? `${head}, and the next frame is ${stepS.toFixed(2)} s later by its stamp: frames were held back, none is missing by the stamps.`
      : `${head}, and the next frame is ${stepS.toFixed(1)} s later by its stamp: the bus was silent, or what it said meanwhile is missing.`;
  }

  /** A sentence where the recording ends in a stall. */
  atEnd(nowS: number, frames: number): string | null {
    if (this.#state !== 'stalled' || frames === 0) return null;
    return `Nothing came in the last ${this.quietS(nowS).toFixed(1)} s, after frame ${frames - 1}: what the bus said then is not in the recording.`;
  }
}
