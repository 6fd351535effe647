/** An invented minute of driving for tests: a capture of 0C4 with its speed, and a receiver whose clock is 3.2 s behind. */

export const BEHIND_S = 3.2;

/** km/h */
export function speedAt(t: number): number {
  return 45 + 15 * Math.sin(t / 3) + 10 * Math.sin(t / 1.3 + 1) + 8 * Math.sin(t / 7);
}

export function movingCsv(): string {
  const lines = ['time,bus,id,ext,data'];
  for (let k = 0; k < 3000; k++) {
    const raw = Math.round(100 * speedAt(k * 0.02));
    const hex = raw.toString(16).toUpperCase().padStart(4, '0');
    lines.push(`${(k * 0.02).toFixed(3)},0,0C4,0,${hex}000000000000`);
  }
  return `${lines.join('\n')}\n`;
}

export function receiverCsv(): string {
  const lines = ['time [s],speed [m/s]'];
  for (let k = 0; k < 500; k++) {
    const ripple = 0.1 * Math.sin(k * k);
    lines.push(`${(k / 10).toFixed(1)},${((speedAt(k / 10 + BEHIND_S) + ripple) / 3.6).toFixed(3)}`);
  }
  return `${lines.join('\n')}\n`;
}

export function referenceYaml(...lines: string[]): string {
  const head = ['form: reference/1', 'name: satellite speed', 'unit: km/h', 'capture: moving.csv'];
  return [...head, ...lines, ''].join('\n');
}
