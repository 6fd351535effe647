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
import type { Capture } from '../capture/store.ts';
import type { Findings } from '../findings/model.ts';
import type { Engines } from './engines.ts';
import { Events } from './events.ts';
import { fileIn } from './files.ts';
import { Incoming } from './incoming.ts';
import { Jobs } from './jobs.ts';
import { Kept } from './kept.ts';
import { CaptureOverTime } from './overTime.ts';

export interface Loaded {
  build: Build | null;
  problems: Problem[];
  revision: string;
}

export interface OpenCapture {
  name: string;
  path: string;
  bytes: number;
  /** SHA-256 of the file, hex. */
  hash: string;
}

/** Captures take 27 bytes a frame and more; the two last used are kept. */
const CAPTURES_KEPT = 2;
const FINDINGS_KEPT = 12;
const VIEWS_KEPT = 40;

export class Workbench {
  readonly folder: string;
  readonly events = new Events();
  readonly jobs = new Jobs((job) => this.events.send({ event: 'job', data: job }));
  readonly findings = new Kept<Findings>(FINDINGS_KEPT);
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

  /** Its frames, from memory where it was read before. */
  readCapture(capture: OpenCapture): Promise<CaptureRead> {
    return this.#captures.get(capture.hash, () =>
      openCapture(this.folder, capture.name, { hash: capture.hash }),
    );
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
