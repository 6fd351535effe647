/** What was wrong with a file while it was read, one sentence each, in a number that a person still reads. */

const MOST = 8;

export class Trouble {
  readonly #sentences = new Set<string>();
  #more = 0;

  /** Keeps the sentence (without its full stop) once. */
  say(sentence: string): void {
    if (this.#sentences.size < MOST) this.#sentences.add(sentence);
    else if (!this.#sentences.has(sentence)) this.#more++;
  }

  /** The first that was said, or null. */
  get first(): string | null {
    const [first] = this.#sentences;
    return first ?? null;
  }

  notes(): string[] {
    const notes = [...this.#sentences].map((sentence) => `${sentence}.`);
    if (this.#more > 0) notes.push(`More such troubles: ${this.#more}.`);
    return notes;
  }
}
