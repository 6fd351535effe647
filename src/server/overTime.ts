/** One open capture over time: what a time axis asks for, built at the first question and kept as long as the frames. */
import {
  FieldOverTime,
  type FieldQuestion,
  type FrameWindow,
  framesIn,
  RateOverTime,
  timeOrder,
} from '../capture/overview/index.ts';
import type { Capture } from '../capture/store.ts';
import { Kept } from './kept.ts';

/** Fields kept; each takes 22 bytes a frame of its message. */
const FIELDS_KEPT = 12;

export class CaptureOverTime {
  readonly rate: RateOverTime;
  readonly #capture: Capture;
  readonly #order: Uint32Array | null;
  readonly #time: Float64Array;
  readonly #fields = new Kept<FieldOverTime>(FIELDS_KEPT);

  constructor(capture: Capture) {
    this.#capture = capture;
    this.rate = new RateOverTime(capture);
    this.#order = timeOrder(capture.time);
    this.#time =
      this.#order === null ? capture.time : Float64Array.from(this.#order, (i) => capture.time[i] as number);
  }

  field(question: FieldQuestion): Promise<FieldOverTime> {
    return this.#fields.get(JSON.stringify(question), async () => new FieldOverTime(this.#capture, question));
  }

  /** Frames of `[from, to]`, written out where they are at most `most`. */
  frames(from: number, to: number, most: number): FrameWindow {
    return framesIn(this.#capture, this.#order, this.#time, { from, to, most });
  }
}
