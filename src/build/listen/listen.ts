/** Records a live stream into a build: appends it, sums it up, keeps its cues, and says what happens. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { addAbortSignal, type Readable } from 'node:stream';
import { pcapng } from '../../capture/formats/pcapng.ts';
import { ClockTie } from '../../capture/live/clock.ts';
import { CueLog } from '../../capture/live/cueLog.ts';
import { StreamSplitter } from '../../capture/live/split.ts';
import { RunningSummary } from '../../capture/live/summary.ts';
import { CaptureBuilder } from '../../capture/store.ts';
import { CueSheetFile } from './cueSheet.ts';
import { ListenError } from './error.ts';
import type { Listened, ListenOptions, ListenState } from './model.ts';
import { freeName, givenName } from './name.ts';
import { Recording } from './recording.ts';
import { Silence, STALL_S } from './silence.ts';
import { type SourceAddress, streamsOf } from './source.ts';
import { StatusFile } from './status.ts';

/** After a request to end, what is on its way is waited for this long, milliseconds. */
const DRAIN_MS = 250;
const SECOND_MS = 1000;
/** Held-back bytes pass when nothing follows for this long, milliseconds. */
const SETTLE_MS = 400;

export class Listening {
  /** Fulfilled when the recording is closed. Throws `ListenError` where no frame came; nothing is kept then. */
  readonly ended: Promise<Listened>;
  readonly #options: ListenOptions;
  readonly #recording: Recording;
  readonly #name: string;
  readonly #sheet: CueSheetFile;
  readonly #status: StatusFile;
  readonly #builder = new CaptureBuilder();
  readonly #reader = pcapng.open(this.#builder);
  readonly #summary = new RunningSummary();
  readonly #tie = new ClockTie();
  readonly #log = new CueLog();
  readonly #notes: string[] = [];
  readonly #started = nowS();
  readonly #cut = new AbortController();
  #lost = 0;
  readonly #silence: Silence;
  #splitter: StreamSplitter | null = null;
  /** What went wrong while no piece was being taken. */
  #failure: unknown = null;
  /** Appending is one thing after another. */
  #chain: Promise<void> = Promise.resolve();
  #why: Listened['ended'] = 'end of stream';

  private constructor(
    folder: string,
    source: SourceAddress,
    recording: Recording,
    name: string,
    options: ListenOptions,
  ) {
    this.#options = options;
    this.#silence = new Silence(options.stallS ?? STALL_S, nowS());
    this.#recording = recording;
    this.#name = name;
    this.#sheet = new CueSheetFile(folder, name.replace(/\.pcapng$/, ''), name, (text) =>
      this.#note(text, 0),
    );
    this.#status = new StatusFile(folder, name);
    this.ended = this.#run(source);
    // Whoever started it hears of a failure when asking for the end.
    this.ended.catch(() => undefined);
  }

  /**
   * Creates the recording and begins to listen.
   * @throws ListenError where the folder is no build, the name is taken or not a name, or the disk refuses
   */
  static async start(folder: string, source: SourceAddress, options: ListenOptions): Promise<Listening> {
    if (!existsSync(join(folder, 'build.yaml')))
      throw new ListenError(
        `${folder}: no build.yaml there, so this is no build; start one with \`bywright new ${folder}\``,
      );
    const name = `${options.name === undefined ? freeName(folder) : givenName(options.name)}.pcapng`;
    const recording = await Recording.create(folder, name, options.disk);
    return new Listening(folder, source, recording, name, options);
  }

  /** File name in `captures/`. */
  get name(): string {
    return this.#name;
  }

  /** A key was pressed: starts or ends its cue; the space bar ends all. Keys without a cue do nothing. */
  press(key: string): void {
    const name = this.#options.cues?.get(key);
    if (name === undefined && key !== ' ') return;
    const at = this.#tie.timeAt(nowS());
    if (at === null) {
      this.#options.tell('No frame has come yet, so there is no time to put a cue at.');
      return;
    }
    if (name === undefined) {
      const ended = this.#log.endAll(at);
      if (ended.length > 0) this.#options.tell(`ended: ${ended.map((cue) => cue.name).join(', ')}`);
    } else {
      const cue = this.#log.press(name, at);
      this.#options.tell(`${cue.state === 'open' ? 'started' : 'ended'}: ${name} at ${at.toFixed(2)} s`);
    }
    void this.#sheet.save(this.#log.cues);
  }

  async #run(source: SourceAddress): Promise<Listened> {
    const { signal, seconds, input } = this.#options;
    const end = (why: Listened['ended']) => {
      if (this.#why !== 'end of stream') return;
      this.#why = why;
      setTimeout(() => this.#cut.abort(), this.#splitter === null ? 0 : DRAIN_MS);
    };
    const onRequest = () => end('on request');
    signal.addEventListener('abort', onRequest);
    if (signal.aborted) onRequest();
    const timers = [
      setInterval(() => this.#second(), SECOND_MS),
      setInterval(() => this.#settle(), SETTLE_MS),
      ...(seconds === undefined ? [] : [setTimeout(() => end('time is up'), seconds * 1000)]),
    ];
    try {
      const streams = streamsOf(source, input, this.#cut.signal, {
        waiting: (where) => {
          this.#silence.begin(nowS());
          this.#options.tell(`Waiting for a sender at ${where}.`);
        },
        turnedAway: () => this.#options.tell('A second sender was turned away: one at a time is recorded.'),
      });
      for await (const stream of streams) await this.#takeAll(stream, source);
      await this.#chain;
      if (this.#failure !== null) throw this.#failure;
      return await this.#close();
    } catch (error) {
      if (this.#summary.now().frames === 0) {
        await this.#recording.discard();
        throw error;
      }
      if (!(error instanceof ListenError)) {
        await this.#recording.close();
        throw error;
      }
      this.#why = 'the disk refuses';
      this.#note(`${error.message}.`, 0);
      return await this.#close();
    } finally {
      signal.removeEventListener('abort', onRequest);
      for (const timer of timers) clearInterval(timer);
      await this.#status.remove();
    }
  }

  /** One stream from its header to its end. */
  async #takeAll(stream: Readable, source: SourceAddress): Promise<void> {
    const splitter = new StreamSplitter(this.#options.bus ?? 0, ({ text, lost }) => this.#note(text, lost));
    this.#splitter = splitter;
    try {
      addAbortSignal(this.#cut.signal, stream);
      try {
        for await (const piece of stream) {
          this.#came();
          await this.#through(() => splitter.push(piece as Uint8Array));
        }
      } catch (error) {
        // Cut off on request, or the sender broke off: both are the end of the stream.
        const { name, code } = error as NodeJS.ErrnoException;
        if (name !== 'AbortError' && code !== 'ECONNRESET' && code !== 'ERR_STREAM_PREMATURE_CLOSE')
          throw error;
      }
      await this.#through(() => splitter.end(this.#cut.signal.aborted ? 'stopped' : 'ended'));
    } catch (error) {
      // What a sender at a socket sends wrongly ends its stream, not the recording.
      if (source.kind === 'standard input' || (error as Error).name !== 'CaptureError') throw error;
      this.#note(`The sender was turned away. ${(error as Error).message}`, 0);
    } finally {
      this.#splitter = null;
    }
  }

  /** Appends the blocks that `make` gives, then counts them. */
  #through(make: () => Uint8Array[]): Promise<void> {
    const done = this.#chain.then(async () => {
      const blocks = make();
      if (blocks.length === 0) return;
      await this.#recording.append(blocks);
      this.#count(blocks);
    });
    this.#chain = done.catch(() => undefined);
    return done;
  }

  #count(blocks: readonly Uint8Array[]): void {
    for (const block of blocks) this.#reader.push(block);
    const piece = this.#builder.finish();
    const silence = piece.count > 0 ? this.#silence.framesCame(piece.time[0] as number) : null;
    if (silence !== null) this.#note(silence, 0);
    for (const { frame, stepS } of this.#summary.take(piece)) {
      this.#tie.restart();
      const words = `${Math.abs(stepS) < 1e6 ? Math.abs(stepS).toFixed(1) : Math.abs(stepS).toExponential(2)} s`;
      this.#note(
        stepS < 0
          ? `The clock of the stream went back by ${words} at frame ${frame}: frames are kept as they came, with their stamps.`
          : `The clock of the stream leapt ahead by ${words} at frame ${frame}: frames are kept as they came, with their stamps.`,
        0,
      );
    }
    if (piece.count > 0) this.#tie.arrived(this.#summary.lastTime, nowS());
    this.#builder.clear();
  }

  #came(): void {
    const quietS = this.#silence.came(nowS());
    if (quietS !== null) this.#options.tell(`After ${quietS.toFixed(1)} s the stream goes on.`);
  }

  #settle(): void {
    const splitter = this.#splitter;
    if (splitter === null || this.#silence.quietS(nowS()) < SETTLE_MS / 2000) return;
    this.#through(() => splitter.settle()).catch((error: unknown) => {
      this.#failure = error;
      this.#cut.abort();
    });
  }

  #second(): void {
    const now = nowS();
    const quietS = this.#silence.quietS(now);
    if (
      this.#splitter !== null &&
      this.#silence.stalls(now, this.#summary.now().frames, this.#summary.lastTime)
    )
      this.#options.tell(`Nothing has come for ${quietS.toFixed(0)} s; still waiting.`);
    const at = this.#tie.timeAt(now);
    if (at !== null && this.#log.open.length > 0) this.#log.moveOn(at);
    if (this.#log.cues.length > 0) void this.#sheet.save(this.#log.cues);
    const state: ListenState = {
      name: this.#name,
      summary: this.#summary.now(),
      elapsedS: now - this.#started,
      quietS,
      openCues: this.#log.open.map((cue) => cue.name),
      cues: this.#log.cues.length,
    };
    void this.#status.write(state);
    this.#options.onSecond?.(state);
  }

  #note(text: string, lost: number): void {
    this.#lost += lost;
    this.#notes.push(text);
    this.#options.tell(text);
  }

  async #close(): Promise<Listened> {
    const { frames, seconds } = this.#summary.now();
    if (frames === 0) {
      await this.#recording.discard();
      if (this.#why === 'on request') this.#options.signal.throwIfAborted();
      throw new ListenError(
        `no frame came${this.#why === 'time is up' ? ` in ${this.#options.seconds} s` : ''}, so nothing was kept${this.#notes.length > 0 ? `: ${this.#notes.join(' ')}` : '; check that the interface is up and the bus is alive'}`,
      );
    }
    const silence = this.#silence.atEnd(nowS(), frames);
    if (silence !== null) this.#note(silence, 0);
    this.#log.endAll(this.#tie.timeAt(nowS()) ?? this.#summary.lastTime);
    await this.#sheet.save(this.#log.cues);
    await this.#recording.close();
    const slow = this.#recording.slowSyncS;
    if (slow !== null)
      this.#note(
        `The disk took up to ${slow.toFixed(1)} s to write through: a power cut could have cost that much and half a second more.`,
        0,
      );
    return {
      name: this.#name,
      frames,
      seconds,
      bytes: this.#recording.bytes,
      ended: this.#why,
      lost: this.#lost,
      notes: this.#notes,
      cueSheet: this.#sheet.file,
      cues: this.#log.cues.length,
    };
  }
}

/** Seconds of a clock that only goes on. */
function nowS(): number {
  return performance.now() / 1000;
}
