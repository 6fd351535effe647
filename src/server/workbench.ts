/** What the server knows of the one build it serves: files read once and kept by content, jobs, listeners. */
import { stat } from 'node:fs/promises';
import { resolve } from 'node:path';
import { cachedHash, openCapture } from '../build/cache/openCapture.ts';
import type { CaptureRead } from '../build/captureFile.ts';
import { fileHash } from '../build/fileHash.ts';
import { CAPTURES_FOLDER } from '../build/files.ts';
import { loadBuild } from '../build/load.ts';
import type { Build, Problem } from '../build/model.ts';
import { buildRevision } from '../build/revision.ts';
import { contentHash } from '../build/save.ts';
import { CaptureError } from '../capture/error.ts';
import { concatenate } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import type { Findings } from '../findings/model.ts';
import type { Engines } from './engines.ts';
import { Events } from './events.ts';
import { fileIn } from './files.ts';
import { Incoming } from './incoming.ts';
import { Jobs } from './jobs.ts';
import { Kept } from './kept.ts';
import { CaptureOverTime } from './overTime.ts';
import { Refusal } from './refusal.ts';

export interface Loaded {
  build: Build | null;
  problems: Problem[];
  revision: string;
}

export interface OpenCapture {
  name: string;
  path: string;
  bytes: number;
  /** SHA-256 of the file, hex; of several captures together, over theirs. */
  hash: string;
  /** The captures that are looked at together. */
  parts?: OpenCapture[];
}

/** Stands in addresses for all captures of the build together. */
export const TOGETHER = '*';

/** Captures take 27 bytes a frame and more; the two last used are kept. */
const CAPTURES_KEPT = 2;
const FINDINGS_KEPT = 12;
const VIEWS_KEPT = 40;

export class Workbench {
  readonly folder: string;
  readonly events = new Events();
  readonly jobs = new Jobs((job) => this.events.send({ event: 'job', data: job }));
  readonly findings = new Kept<Findings>(FINDINGS_KEPT);
  /** Other things that jobs worked out, by what they depend on. */
  readonly results = new Kept<unknown>(FINDINGS_KEPT);
  /** Replies that were worked out, by what they depend on. */
  readonly views = new Kept<unknown>(VIEWS_KEPT);
  /** Captures over time; they go when their frames go. */
  readonly #overviews = new WeakMap<Capture, CaptureOverTime>();
  readonly #captures = new Kept<CaptureRead>(CAPTURES_KEPT);
  readonly #hashes = new Map<string, { stamp: string; hash: string }>();
  #loaded: Promise<Loaded> | null = null;

  readonly incoming: Incoming;
  readonly engines: Engines;
  /** Tells listeners of changes that the server made itself, without waiting for the system; set when watching. */
  lookForChanges: () => Promise<void> = async () => {};

  constructor(folder: string, engines: Engines) {
    this.folder = resolve(folder);
    this.incoming = new Incoming(this.folder);
    this.engines = engines;
  }

  /** The build as it is on the disk now; read again only when its text files changed. */
  async load(): Promise<Loaded> {
    const revision = await buildRevision(this.folder);
    const known = await this.#loaded;
    if (known === null || known.revision !== revision)
      this.#loaded = loadBuild(this.folder).then((loaded) => ({ ...loaded, revision }));
    return (await this.#loaded) as Loaded;
  }

  /** Finds a capture by its file name and hashes it. Throws `Refusal`. */
  async openCapture(name: string): Promise<OpenCapture> {
    const { path, bytes } = await fileIn(this.folder, CAPTURES_FOLDER, name);
    return { name, path, bytes, hash: await this.hash(path, () => cachedHash(this.folder, name)) };
  }

  /** One capture, or all of the build together. Throws `Refusal`. */
  async openRecordings(name: string): Promise<OpenCapture> {
    if (name !== TOGETHER) return this.openCapture(name);
    const { build } = await this.load();
    const parts: OpenCapture[] = [];
    for (const one of build?.captures ?? []) parts.push(await this.openCapture(one));
    if (parts.length === 0) throw new Refusal(404, 'the build has no capture yet');
    const bytes = parts.reduce((sum, part) => sum + part.bytes, 0);
    return { name, path: '', bytes, hash: contentHash(parts.map((part) => part.hash).join()), parts };
  }

  /** Its frames, from memory where it was read before. */
  readCapture(capture: OpenCapture): Promise<CaptureRead> {
    const { parts } = capture;
    return this.#captures.get(capture.hash, () =>
      parts ? this.#readTogether(parts) : openCapture(this.folder, capture.name, { hash: capture.hash }),
    );
  }

  /** Recordings of one car, put end to end a second apart. One that cannot be read is left out and told. */
  async #readTogether(parts: readonly OpenCapture[]): Promise<CaptureRead> {
    const read: Capture[] = [];
    const notes: string[] = [];
    for (const part of parts) {
      try {
        read.push((await openCapture(this.folder, part.name, { hash: part.hash })).capture);
      } catch (error) {
        if (!(error instanceof CaptureError)) throw error;
        notes.push(`left out: ${error.message}`);
      }
    }
    if (read.length === 0) throw new Refusal(422, notes[0] ?? 'no capture can be read');
    const guess = `${read.length} captures put end to end`;
    return { capture: concatenate(read, 1), format: 'several', guess, notes };
  }

  /** A capture over time, kept as long as its frames are. */
  async overTime(capture: OpenCapture): Promise<CaptureOverTime> {
    const frames = (await this.readCapture(capture)).capture;
    const known = this.#overviews.get(frames);
    if (known !== undefined) return known;
    const made = new CaptureOverTime(frames);
    this.#overviews.set(frames, made);
    return made;
  }

  /**
   * SHA-256 of a file in hex; read again only when its size, time or number changed. `told` may know it without reading:
   * of a recording of some hundred megabytes that is a second before anything is seen.
   */
  async hash(path: string, told: () => Promise<string | null> = async () => null): Promise<string> {
    const { size, mtimeMs, ino } = await stat(path);
    const stamp = `${size} ${mtimeMs} ${ino}`;
    const known = this.#hashes.get(path);
    if (known?.stamp === stamp) return known.hash;
    const hash = (await told()) ?? (await fileHash(path));
    this.#hashes.set(path, { stamp, hash });
    return hash;
  }
}
