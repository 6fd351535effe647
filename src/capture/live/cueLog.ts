/** Cues as they are pressed: a key starts its cue and ends it; all ends are right at any moment. */

export interface LoggedCue {
  name: string;
  startS: number;
  /** Of an open cue: until when it is known to last. Never before its start. */
  endS: number;
  state: 'open' | 'ended';
}

export class CueLog {
  readonly #cues: LoggedCue[] = [];

  get cues(): readonly Readonly<LoggedCue>[] {
    return this.#cues;
  }

  get open(): readonly Readonly<LoggedCue>[] {
    return this.#cues.filter((cue) => cue.state === 'open');
  }

  /** Starts the cue at `timeS`, or ends it where it is open; returns it. */
  press(name: string, timeS: number): Readonly<LoggedCue> {
    const open = this.#cues.find((cue) => cue.name === name && cue.state === 'open');
    if (open) return ended(open, timeS);
    const cue: LoggedCue = { name, startS: timeS, endS: timeS, state: 'open' };
    this.#cues.push(cue);
    return cue;
  }

  /** Ends every open cue; returns them. */
  endAll(timeS: number): Readonly<LoggedCue>[] {
    return this.#cues.filter((cue) => cue.state === 'open').map((cue) => ended(cue, timeS));
  }

  /** Open cues last at least until `timeS`. */
  moveOn(timeS: number): void {
    for (const cue of this.#cues) if (cue.state === 'open') cue.endS = Math.max(cue.endS, timeS);
  }
}

/** Where the stream's clock went back meanwhile, a cue ends where it was last seen. */
function ended(cue: LoggedCue, timeS: number): LoggedCue {
  cue.endS = Math.max(cue.endS, timeS);
  cue.state = 'ended';
  return cue;
}
