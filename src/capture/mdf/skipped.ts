/** Records that gave no frame, counted by kind of frame and by cause. */
import type { FrameKind } from './busLogging.ts';

const CAUSES = {
  length: 'with a payload length that no frame has',
  time: 'without a time',
  invalid: 'that the recorder marked as invalid',
  noValue: 'whose payload lies outside the values of the file',
} as const;

export class SkipLog {
  readonly #counts = new Map<string, number>();

  skip(kind: FrameKind, cause: keyof typeof CAUSES): void {
    const key = `${kind} ${cause}`;
    this.#counts.set(key, (this.#counts.get(key) ?? 0) + 1);
  }

  notes(): string[] {
    return [...this.#counts].map(([key, count]) => {
      const [kind, cause] = key.split(' ') as [FrameKind, keyof typeof CAUSES];
      return `Records of ${kind} frames were skipped: ${count} ${CAUSES[cause]}.`;
    });
  }
}
