/** What is wrong with a message plan, as data: every place at once, with what was found and what would be right. */
import { guardProblems } from './guardProblems.ts';
import { linearError } from './linear.ts';
import type { Route, RouteSignal } from './model.ts';
import { believedRange, type GatewayParts, Lookup, wholeSteps } from './plan.ts';
import { busLoadProblems, loopProblems, senderProblems } from './planShape.ts';
import { caution, type PlanProblem, refuse, tidy } from './problem.ts';
import { AGE_MAX } from './read.ts';
import { referenceProblems } from './reference.ts';
import { readProblems, writeProblems } from './supported.ts';

/** All problems of a message plan and of joining its guards, in the order of the plans. */
export function planProblems(parts: GatewayParts): PlanProblem[] {
  const routes = parts.bridge?.routes ?? [];
  const lookup = new Lookup(parts);
  return [
    ...repeatedNames(routes),
    ...routes.flatMap((route, i) => routeProblems(route, `routes[${i}]`, parts.stepMs, lookup)),
    ...guardProblems(parts, lookup),
    ...senderProblems(parts, lookup),
    ...loopProblems(parts, lookup),
    ...busLoadProblems(parts, lookup),
  ];
}

function repeatedNames(routes: Route[]): PlanProblem[] {
  return routes.flatMap((route, i) =>
    routes.findIndex((r) => r.name === route.name) === i
      ? []
      : [refuse(`routes[${i}].name`, `a second route "${route.name}"`, 'a name of its own for each route')],
  );
}

function routeProblems(route: Route, path: string, stepMs: number, lookup: Lookup): PlanProblem[] {
  const problems = referenceProblems(route.to, `${path}.to`, lookup);
  if (wholeSteps(route.periodMs, stepMs) === null) {
    problems.push(
      refuse(
        `${path}.period_ms`,
        `${tidy(route.periodMs)} ms`,
        `a multiple of the gateway's step of ${stepMs} ms, ${nearestSteps(route.periodMs, stepMs)}`,
      ),
    );
  }
  problems.push(...sourceAgeProblems(route, path, stepMs, lookup));
  const target = lookup.message(route.to);
  if (target) {
    const bus = lookup.bus(route.to.bus);
    problems.push(...writeProblems(target, bus, `${path}.to.message`));
    const names = new Set(route.signals.map((s) => s.to));
    for (const signal of target.signals) {
      if (signal.state !== 'rejected' && !names.has(signal.name)) {
        problems.push(
          caution(`${path}.signals`, `no line for ${signal.name}`, `a line for it; it is sent as raw 0 now`),
        );
      }
    }
  }
  route.signals.forEach((line, i) => {
    const at = `${path}.signals[${i}]`;
    if (route.signals.findIndex((s) => s.to === line.to) < i)
      problems.push(refuse(`${at}.to`, `a second line for ${line.to}`, 'one line for each signal'));
    problems.push(...lineProblems(route, line, at, lookup));
  });
  return problems;
}

function lineProblems(route: Route, line: RouteSignal, path: string, lookup: Lookup): PlanProblem[] {
  const problems: PlanProblem[] = [];
  const known = lookup.message(route.to) !== undefined;
  const toRef = { ...route.to, signal: line.to };
  const to = lookup.signal(toRef);
  if (known && !to) {
    problems.push(...referenceProblems(toRef, path, lookup).map((p) => ({ ...p, path: `${path}.to` })));
  }
  if (!line.from && line.value === undefined)
    problems.push(refuse(path, 'neither `from` nor `value`', 'a signal to read, or a fixed value'));
  if (line.from && line.value !== undefined)
    problems.push(refuse(`${path}.value`, 'both `from` and `value`', 'one of the two'));
  const target = to && to.scale !== 0 ? believedRange(to) : null;
  const holds = target && to ? `${tidy(target.lo)} … ${tidy(target.hi)} ${to.unit}`.trim() : '';
  const fixed: [string, number | undefined][] = [
    ['value', line.from ? undefined : line.value],
    ['on_loss', line.onLoss === 'hold' ? undefined : line.onLoss],
  ];
  for (const [field, value] of fixed) {
    if (target && to && value !== undefined && outside(value, target, to.scale))
      problems.push(refuse(`${path}.${field}`, `${tidy(value)}`, `a value that ${to.name} holds: ${holds}`));
  }
  if (!line.from) return problems;
  problems.push(...referenceProblems(line.from, `${path}.from`, lookup));
  const message = lookup.message(line.from);
  const from = lookup.signal(line.from);
  if (!message || !from) return problems;
  const limits = readProblems(message, from, `${path}.from`);
  problems.push(...limits);
  if (!to || !target || limits.length > 0) return problems;
  const source = believedRange(from);
  const ends = [source.lo, source.hi].map((v) => v * line.gain + line.bias);
  const [lo, hi] = [Math.min(...ends), Math.max(...ends)];
  if (outside(lo, target, to.scale) || outside(hi, target, to.scale)) {
    const found = `${from.name} reaches ${tidy(lo)} … ${tidy(hi)} after gain and bias, ${to.name} holds ${holds}`;
    problems.push(
      caution(path, found, 'a range that fits, or the certainty that cutting it off does no harm'),
    );
  }
  const raw = { lo: source.rawLo, hi: source.rawHi };
  const factor = (from.scale * line.gain) / to.scale;
  const offset = (from.offset * line.gain + line.bias - to.offset) / to.scale;
  const error = linearError(raw, factor, offset, target.rawLo, target.rawHi);
  if (error === null || error > 1) {
    const found = `scaling ${from.name} by ${tidy(factor)} is off by up to ${error === null ? 'any number of' : tidy(error)} steps of ${to.name} in 32-bit arithmetic`;
    problems.push(
      (error === null ? refuse : caution)(
        path,
        found,
        'a gain that is a simple fraction, or a shorter field',
      ),
    );
  }
  const [stepIn, stepOut] = [Math.abs(from.scale * line.gain), Math.abs(to.scale)];
  if (stepOut > stepIn * (1 + 1e-9) && source.rawHi - source.rawLo > 1) {
    const found = `${from.name} comes in steps of ${tidy(stepIn)}, ${to.name} has steps of ${tidy(stepOut)}`;
    problems.push(
      caution(path, found, 'a target as fine as the source, or the certainty that coarser will do'),
    );
  }
  return problems;
}

function sourceAgeProblems(route: Route, path: string, stepMs: number, lookup: Lookup): PlanProblem[] {
  const at = `${path}.source_age_ms`;
  const found = `${tidy(route.sourceAgeMs)} ms`;
  const refs = route.signals.flatMap((s) => (s.from ? [s.from] : []));
  if (refs.length === 0) return [];
  const longest = (AGE_MAX - 1) * stepMs;
  if (route.sourceAgeMs > longest)
    return [refuse(at, found, `at most ${longest} ms with a step of ${stepMs} ms`)];
  if (route.sourceAgeMs < stepMs) return [refuse(at, found, `at least the gateway's step of ${stepMs} ms`)];
  const slowest = Math.max(0, ...refs.map((ref) => lookup.message(ref)?.periodMs ?? 0));
  if (route.sourceAgeMs >= slowest + stepMs) return [];
  const right = `more than one period and one step, ${tidy(slowest + stepMs)} ms or longer`;
  return [caution(at, `${found}, while the source comes every ${tidy(slowest)} ms`, right)];
}

function nearestSteps(ms: number, stepMs: number): string {
  const below = Math.floor(ms / stepMs) * stepMs;
  return below < stepMs ? `${stepMs} ms` : `${below} or ${below + stepMs} ms`;
}

function outside(value: number, range: { lo: number; hi: number }, scale: number): boolean {
  const half = Math.abs(scale) / 2;
  return value < range.lo - half || value > range.hi + half;
}
