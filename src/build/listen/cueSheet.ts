/** The cue sheet of a running recording: written as cues are pressed, a valid file at every moment. */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { stringify } from 'yaml';
import type { LoggedCue } from '../../capture/live/cueLog.ts';
import { contentHash, saveText } from '../save.ts';

type Cue = Readonly<LoggedCue>;

export class CueSheetFile {
  readonly #folder: string;
  readonly #base: string;
  readonly #capture: string;
  readonly #tell: (text: string) => void;
  #file: string;
  /** Hash of what this process last wrote to the file; null before. */
  #hash: string | null = null;
  #wanted: readonly Cue[] = [];
  /** Cues that stand ended in an earlier sheet of this recording. */
  readonly #elsewhere = new Set<Cue>();
  #ended: readonly Cue[] = [];
  #stands = '';
  #said = '';
  #saving: Promise<void> | null = null;

  /** `base` is the name of the sheet without ending; `tell` hears why a save has to wait. */
  constructor(folder: string, base: string, capture: string, tell: (text: string) => void) {
    this.#folder = folder;
    this.#base = base;
    this.#capture = capture;
    this.#tell = tell;
    this.#file = `cues/${base}.yaml`;
  }

  /** Path of the sheet relative to the build; null before anything was written. */
  get file(): string | null {
    return this.#hash === null ? null : this.#file;
  }

  /** Writes the cues as they are now, and again after that if they change meanwhile. */
  save(cues: readonly Cue[]): Promise<void> {
    this.#wanted = cues;
    this.#saving ??= this.#work().finally(() => {
      this.#saving = null;
    });
    return this.#saving;
  }

  async #work(): Promise<void> {
    for (;;) {
      const cues = this.#wanted.filter((cue) => !this.#elsewhere.has(cue));
      const text = sheetText(this.#capture, cues);
      if (cues.length === 0 || text === this.#stands) return;
      const ended = cues.filter((cue) => cue.state === 'ended');
      try {
        await saveText(this.#folder, this.#file, text, this.#hash);
      } catch (error) {
        if (await this.#isForeign()) this.#turnTo(error as Error);
        else {
          this.#say((error as Error).message);
          return;
        }
        continue;
      }
      this.#stands = text;
      this.#hash = contentHash(text);
      this.#ended = ended;
    }
  }

  /** Whether the file is no longer what this process wrote. */
  async #isForeign(): Promise<boolean> {
    const now = await readFile(join(this.#folder, this.#file)).catch(() => null);
    return (now === null ? null : contentHash(now)) !== this.#hash;
  }

  /** Somebody else edits the sheet: it is theirs now, further cues go into one beside it. */
  #turnTo({ message }: Error): void {
    for (const cue of this.#ended) this.#elsewhere.add(cue);
    this.#ended = [];
    this.#hash = null;
    this.#stands = '';
    const number = Number(/-(\d+)\.yaml$/.exec(this.#file.slice(`cues/${this.#base}`.length))?.[1] ?? 1);
    this.#file = `cues/${this.#base}-${number + 1}.yaml`;
    this.#say(`${message.split(':')[0]}: further cues go into ${this.#file}`);
  }

  #say(text: string): void {
    if (text === this.#said) return;
    this.#said = text;
    this.#tell(text);
  }
}

/** The sheet as YAML; an open cue ends where it is known to last, and says so. */
export function sheetText(capture: string, cues: readonly Cue[]): string {
  const rounded = (seconds: number) => Math.round(seconds * 1000) / 1000;
  const sheet = {
    form: 'cues/1',
    capture,
    cues: cues.map(({ name, startS, endS, state }) => ({
      name,
      start_s: rounded(startS),
      end_s: rounded(endS),
      ...(state === 'open' ? { note: 'still on when this was written' } : {}),
    })),
  };
  return `# Cues pressed while ${capture} was recorded; times are those of the recording.\n${stringify(sheet)}`;
}
