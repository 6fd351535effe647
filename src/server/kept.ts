/** Results by key, the last used few of them; two questions for the same at the same time work it out once. */
export class Kept<T> {
  readonly #values = new Map<string, Promise<T>>();
  readonly #limit: number;

  constructor(limit: number) {
    this.#limit = limit;
  }

  /** A result that failed is not kept. */
  get(key: string, make: () => Promise<T>): Promise<T> {
    const known = this.#values.get(key);
    const value = known ?? make();
    this.#values.delete(key);
    this.#values.set(key, value);
    if (known === undefined) {
      value.catch(() => {
        if (this.#values.get(key) === value) this.#values.delete(key);
      });
      for (const oldest of this.#values.keys()) {
        if (this.#values.size <= this.#limit) break;
        this.#values.delete(oldest);
      }
    }
    return value;
  }

  /** Only what is there. */
  peek(key: string): Promise<T> | null {
    return this.#values.get(key) ?? null;
  }
}
