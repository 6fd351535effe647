/** What an import could not hold, counted by kind, so that it can be said in a few sentences. */

export interface Located {
  line: number;
  path: string;
}

export class LeftOut {
  readonly #kinds = new Map<string, Set<string>>();

  add(kind: string, path: string): void {
    const paths = this.#kinds.get(kind) ?? new Set();
    this.#kinds.set(kind, paths);
    paths.add(path);
  }

  /** "INIT-VALUE: 12 times (/Signals/Speed, /Signals/Angle, /Signals/State, …)". */
  sentences(): string[] {
    return [...this.#kinds].map(([kind, paths]) => {
      const first = [...paths].slice(0, 3).join(', ');
      return `${kind}: ${paths.size === 1 ? 'once' : `${paths.size} times`} (${first}${paths.size > 3 ? ', …' : ''})`;
    });
  }
}
