/**
 * The state of one time axis: what is seen, where the cursor stands, what is marked. Kept outside the page's components, which
 * would redraw too slowly for a hand on the wheel.
 */
import type { LaneHead, OverviewHead } from '../../../src/server/api.ts';
import type { AskError } from '../../data/ask.ts';
import { type Lane, Stretch } from './data.ts';
import { moved, type Span, widthOf, within, zoomed } from './span.ts';

export interface AxisCue {
  /** Sheet and place in it; an empty path for a cue that cannot be changed here. */
  file: string;
  index: number;
  name: string;
  startS: number;
  endS: number;
  level?: number | undefined;
  note?: string | undefined;
}

/** Components hear of a change when the hand has rested this long, milliseconds. */
const REST_MS = 120;

export class TimeAxis {
  readonly capture: string;
  readonly overview: Stretch<OverviewHead>;
  readonly lanes = new Map<string, { lane: Lane; data: Stretch<LaneHead> }>();
  bounds: Span = { from: 0, to: 1 };
  view: Span = { from: 0, to: 1 };
  /** Seconds; null as long as nobody pointed anywhere. */
  cursorS: number | null = null;
  /** A stretch that is to become a cue; `endS` is null until it is given. */
  mark: { startS: number; endS: number | null } | null = null;
  cues: AxisCue[] = [];
  /** A cue while one of its edges is moved. */
  moving: AxisCue | null = null;
  chosen: AxisCue | null = null;
  error: AskError | null = null;
  width = 800;
  /** Draws; called at most once per frame of the screen. */
  draw: () => void = () => {};
  readonly #listeners = new Set<() => void>();
  #waiting = 0;
  #rest: ReturnType<typeof setTimeout> | undefined;
  #begun = false;

  constructor(capture: string) {
    this.capture = capture;
    const at = `/api/captures/${encodeURIComponent(capture)}`;
    this.overview = new Stretch(
      (span) => `${at}/overview?${span}&frames=4000`,
      (error) => this.#answered(error),
    );
  }

  /** The first question; everything else follows from moving. */
  begin(): void {
    this.#look();
  }

  onRest(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  setLanes(lanes: readonly Lane[]): void {
    for (const [query, { data }] of this.lanes) {
      if (lanes.some((lane) => lane.query === query)) continue;
      data.end();
      this.lanes.delete(query);
    }
    const at = `/api/captures/${encodeURIComponent(this.capture)}`;
    for (const lane of lanes) {
      const known = this.lanes.get(lane.query);
      const data =
        known?.data ??
        new Stretch<LaneHead>(
          (span) => `${at}/lane?${lane.query}&${span}`,
          (error) => this.#answered(error),
        );
      this.lanes.set(lane.query, { lane, data });
    }
    this.changed();
  }

  show(view: Span): void {
    this.view = within(view, this.bounds);
    this.changed();
  }

  zoom(factor: number, fixed?: number): void {
    const middle = (this.view.from + this.view.to) / 2;
    const cursor = this.cursorS;
    const seen = cursor !== null && cursor >= this.view.from && cursor <= this.view.to;
    this.view = zoomed(this.view, factor, fixed ?? (seen ? cursor : middle), this.bounds);
    this.changed();
  }

  /** Moves the view by a share of its width; a cursor that is seen keeps its place on the sheet. */
  pan(share: number): void {
    const before = this.view.from;
    const { cursorS } = this;
    const seen = cursorS !== null && cursorS >= this.view.from && cursorS <= this.view.to;
    this.view = moved(this.view, share * widthOf(this.view), this.bounds);
    if (seen) this.cursorS = cursorS + (this.view.from - before);
    this.changed();
  }

  /** Puts the cursor there; the view follows where it would leave it. */
  point(seconds: number): void {
    const at = Math.min(Math.max(seconds, this.bounds.from), this.bounds.to);
    this.cursorS = at;
    const width = widthOf(this.view);
    if (at < this.view.from)
      this.view = within({ from: at - 0.1 * width, to: at + 0.9 * width }, this.bounds);
    if (at > this.view.to) this.view = within({ from: at - 0.9 * width, to: at + 0.1 * width }, this.bounds);
    this.changed();
  }

  /** Something is to be drawn anew, soon; what is seen is asked for. */
  changed(): void {
    this.#look();
    if (this.#waiting === 0)
      this.#waiting = requestAnimationFrame(() => {
        this.#waiting = 0;
        this.draw();
      });
    clearTimeout(this.#rest);
    this.#rest = setTimeout(() => {
      for (const listener of this.#listeners) listener();
    }, REST_MS);
  }

  end(): void {
    this.overview.end();
    for (const { data } of this.lanes.values()) data.end();
    cancelAnimationFrame(this.#waiting);
    clearTimeout(this.#rest);
  }

  #look(): void {
    this.overview.look(this.view, this.bounds, this.width);
    if (this.#begun)
      for (const { data } of this.lanes.values()) data.look(this.view, this.bounds, this.width);
  }

  #answered(error: AskError | null): void {
    this.error = error;
    const head = this.overview.whole?.head;
    if (head && !this.#begun) {
      this.#begun = true;
      // A recording of one moment still needs an axis.
      const to = head.last > head.first ? head.last : head.first + 1;
      this.bounds = { from: head.first, to };
      this.view = this.bounds;
      for (const listener of this.#listeners) listener();
    }
    this.changed();
  }
}
