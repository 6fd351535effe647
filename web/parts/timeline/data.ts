/** What a time axis shows, asked of the server for a little more than is seen, so that moving shows something at once. */
import type { LaneHead, OverviewHead } from '../../../src/server/api.ts';
import type { AskError } from '../../data/ask.ts';
import { askColumns, type Columns } from '../../data/columns.ts';
import { asAskError } from '../../data/use.ts';
import { type Span, widthOf } from './span.ts';

export type Overview = Columns<OverviewHead>;
export type LaneData = Columns<LaneHead>;

/** A field that is drawn: where it stands, and how its raw values become physical ones. */
export interface Lane {
  /** Its place as the server is asked for it; also what tells lanes apart. */
  query: string;
  /** "angle", or the place in words. */
  name: string;
  /** Message and bus. */
  of: string;
  unit: string;
  scale: number;
  offset: number;
}

/** Share of the view that is asked for beyond either end, and how little of it may be left before more is asked for. */
const BEYOND = 1;
const REST = 0.35;

/** One question about a stretch: the whole recording once, and the neighbourhood of the view; one at a time is on the way. */
export class Stretch<V extends Span> {
  whole: Columns<V> | null = null;
  near: Columns<V> | null = null;
  readonly #path: (span: string) => string;
  readonly #told: (error: AskError | null) => void;
  readonly #stop = new AbortController();
  #busy = false;
  #next: { view: Span; bounds: Span; pixels: number } | null = null;

  /** `path` gives the address for a piece of query; `told` hears of every answer. */
  constructor(path: (span: string) => string, told: (error: AskError | null) => void) {
    this.#path = path;
    this.#told = told;
  }

  /** What covers the view, as fine as there is; before the neighbourhood has come, the whole. */
  best(view: Span): Columns<V> | null {
    const { near } = this;
    return near !== null && near.head.from <= view.from && near.head.to >= view.to ? near : this.whole;
  }

  /** Sees to it that the view is there, soon. */
  look(view: Span, bounds: Span, pixels: number): void {
    this.#next = { view, bounds, pixels };
    if (!this.#busy) void this.#work();
  }

  end(): void {
    this.#stop.abort();
  }

  async #work(): Promise<void> {
    this.#busy = true;
    try {
      for (;;) {
        const next = this.#next;
        this.#next = null;
        if (next === null || this.#stop.signal.aborted) return;
        const query = this.whole === null ? `pixels=${Math.min(8000, next.pixels * 3)}` : this.#missing(next);
        if (query === null) continue;
        const answer = await askColumns<V>(this.#path(query), this.#stop.signal);
        if (this.whole === null) {
          this.whole = answer;
          this.#next ??= next;
        } else this.near = answer;
        this.#told(null);
      }
    } catch (error) {
      if (!this.#stop.signal.aborted) this.#told(asAskError(error));
    } finally {
      this.#busy = false;
    }
  }

  /** null where what is there serves the view well enough. */
  #missing({ view, bounds, pixels }: { view: Span; bounds: Span; pixels: number }): string | null {
    const width = widthOf(view);
    const serves = (span: Span | undefined) =>
      span !== undefined &&
      span.from <= Math.max(bounds.from, view.from - REST * width) &&
      span.to >= Math.min(bounds.to, view.to + REST * width) &&
      widthOf(span) <= width * (2 * BEYOND + 1) * 1.6;
    if (serves(this.near?.head) || serves(this.whole?.head)) return null;
    const from = Math.max(bounds.from, view.from - BEYOND * width);
    const to = Math.min(bounds.to, view.to + BEYOND * width);
    const share = (to - from) / width;
    return `from=${from}&to=${to}&pixels=${Math.min(8000, Math.ceil(pixels * share))}`;
  }
}
