/**
 * One thing that is wrong with a plan, as data. `refuse` means that no gateway can be made of it; `caution` means that
 * one can, and that its maker should know.
 */
export interface PlanProblem {
  weight: 'refuse' | 'caution';
  /** File of the build that the path is in. */
  file: 'bridge.yaml' | 'guard.yaml';
  /** Path to the field: "routes[2].signals[0].from.signal". */
  path: string;
  found: string;
  expected: string;
}

export function refuse(path: string, found: string, expected: string): PlanProblem {
  return { weight: 'refuse', file: 'bridge.yaml', path, found, expected };
}

export function caution(path: string, found: string, expected: string): PlanProblem {
  return { weight: 'caution', file: 'bridge.yaml', path, found, expected };
}

/** The same problems, found in `guard.yaml`. */
export function inGuardFile(problems: PlanProblem[]): PlanProblem[] {
  return problems.map((p) => ({ ...p, file: 'guard.yaml' }));
}

/** A number written for a person: without the last digits of binary fractions. */
export function tidy(value: number): string {
  return String(Number(value.toPrecision(6)));
}

/** "what: a, b, c": the names among which one must be chosen. */
export function oneOf(what: string, names: string[]): string {
  if (names.length === 0) return `${what} (there is none yet)`;
  const shown = names.slice(0, 8).join(', ');
  return `${what}: ${shown}${names.length > 8 ? ` … (${names.length} in all)` : ''}`;
}

/** The plan cannot become a gateway; carries every problem that stands against it. */
export class BridgeError extends Error {
  readonly problems: PlanProblem[];

  constructor(message: string, problems: PlanProblem[] = []) {
    super(message);
    this.name = 'BridgeError';
    this.problems = problems;
  }
}
