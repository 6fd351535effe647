/** Problems that only the whole plan shows: who sends what, loops, and what the bus can carry. */
import { FLAG } from '../can/frame.ts';
import { frameBits } from '../can/length.ts';
import type { Message } from '../dictionary/model.ts';
import type { GatewayBus } from './gateway.ts';
import type { MessageRef } from './model.ts';
import { type GatewayParts, guardSignals, type Lookup, messageKey, wireKey } from './plan.ts';
import { caution, inGuardFile, type PlanProblem, refuse, tidy } from './problem.ts';

/** A message that the gateway sends, and where the plans say so. */
interface Sent {
  what: string;
  file: PlanProblem['file'];
  path: string;
  periodPath: string;
  to: MessageRef;
  periodMs: number;
}

/** Two senders of one identifier, and routes that wait for what the gateway itself sends. */
export function senderProblems(parts: GatewayParts, lookup: Lookup): PlanProblem[] {
  const problems: PlanProblem[] = [];
  const first = new Map<string, Sent>();
  for (const sent of sentMessages(parts)) {
    const bus = lookup.bus(sent.to.bus);
    const message = lookup.message(sent.to);
    if (!bus || !message) continue;
    const key = wireKey(bus.number, message);
    const other = first.get(key);
    if (other) {
      const found = `${sent.what} sends ${message.name} on ${bus.name}, as ${other.what} does`;
      const problem = refuse(sent.path, found, 'one sender for each identifier of a bus');
      problems.push({ ...problem, file: sent.file });
    } else first.set(key, sent);
  }
  const sentKeys = new Map(sentMessages(parts).map((sent) => [messageKey(sent.to), sent]));
  const ownFrames = (from: MessageRef | undefined, path: string) => {
    const own = from && sentKeys.get(messageKey(from));
    if (!own || !from) return [];
    const found = `${from.message} of bus ${from.bus}, which ${own.what} sends`;
    const right = 'a message of another unit: the gateway does not hear its own frames';
    return [refuse(`${path}.message`, found, right)];
  };
  parts.bridge?.routes.forEach((route, i) => {
    route.signals.forEach((line, k) => {
      problems.push(...ownFrames(line.from, `routes[${i}].signals[${k}].from`));
    });
  });
  for (const guard of parts.guards) {
    for (const { signal, path } of guardSignals(guard))
      problems.push(...inGuardFile(ownFrames(signal, path)));
  }
  return problems;
}

/** Routes that feed each other in a circle: what one sends, the next one waits for. */
export function loopProblems(parts: GatewayParts, lookup: Lookup): PlanProblem[] {
  const routes = parts.bridge?.routes ?? [];
  const writers = new Map<string, number[]>();
  routes.forEach((route, i) => {
    const key = messageKey(route.to);
    writers.set(key, [...(writers.get(key) ?? []), i]);
  });
  const feeds = routes.map((route) => [
    ...new Set(route.signals.flatMap((s) => (s.from ? (writers.get(messageKey(s.from)) ?? []) : []))),
  ]);
  const reported = new Set<number>();
  return routes.flatMap((_, start) => {
    if (reported.has(start)) return [];
    const circle = circleFrom(start, feeds);
    if (!circle) return [];
    for (const i of circle) reported.add(i);
    const names = [...circle, start].map((i) => routes[i]?.name).join(' ← ');
    const to = routes[start]?.to as MessageRef;
    const found = `routes that feed each other: ${names}`;
    const right = `a first source outside the circle for ${lookup.message(to)?.name ?? to.message}`;
    return [refuse(`routes[${start}]`, found, right)];
  });
}

/** More traffic than a bus can carry, each frame at its worst-case length. */
export function busLoadProblems(parts: GatewayParts, lookup: Lookup): PlanProblem[] {
  const sent = sentMessages(parts);
  return parts.buses.flatMap((bus) => {
    const own = sent.filter((s) => s.to.bus === bus.name);
    const load = (message: Message | undefined, periodMs: number | null) =>
      message && periodMs ? frameMs(message, bus) / periodMs : 0;
    const ownLoad = own.reduce((sum, s) => sum + load(lookup.message(s.to), s.periodMs), 0);
    if (ownLoad > 1) {
      const [worst] = own.toSorted((a, b) => a.periodMs - b.periodMs);
      const found = `${percent(ownLoad)} load on ${bus.name} by the gateway alone`;
      const right = `at most 100 %, with longer periods or a bit rate above ${bus.bitRateBps} bit/s`;
      return [{ ...refuse(worst?.periodPath ?? '', found, right), file: worst?.file ?? 'bridge.yaml' }];
    }
    if (own.length === 0) return [];
    const ownKeys = new Set(own.map((s) => messageKey(s.to)));
    const others = (lookup.dictionary(bus.name)?.messages ?? []).filter(
      (m) => !ownKeys.has(messageKey({ bus: bus.name, message: m.name })),
    );
    const total = others.reduce((sum, m) => sum + load(m, m.periodMs), ownLoad);
    if (total <= 1) return [];
    const found = `${percent(total)} load on ${bus.name} if every message of its dictionary is on it`;
    const right = 'at most 100 %: leave out what is not on the bus, or send less often';
    return [{ ...caution(own[0]?.path ?? '', found, right), file: own[0]?.file ?? 'bridge.yaml' }];
  });
}

function sentMessages(parts: GatewayParts): Sent[] {
  return [
    ...(parts.bridge?.routes ?? []).map((route, i) => ({
      what: `route "${route.name}"`,
      file: 'bridge.yaml' as const,
      path: `routes[${i}].to.message`,
      periodPath: `routes[${i}].period_ms`,
      to: route.to,
      periodMs: route.periodMs,
    })),
    ...parts.guards.flatMap(({ outputs }) =>
      outputs.map((output) => ({
        what: `the guard's ${output.path}`,
        file: 'guard.yaml' as const,
        path: `${output.path}.message`,
        periodPath: output.periodPath,
        to: output.message,
        periodMs: output.periodMs,
      })),
    ),
  ];
}

/** The circle through `start`, each route followed by one that feeds it; null where there is none. */
function circleFrom(start: number, feeds: number[][]): number[] | null {
  const seen = new Set<number>();
  const walk = (at: number, way: number[]): number[] | null => {
    for (const next of feeds[at] ?? []) {
      if (next === start) return way;
      if (seen.has(next)) continue;
      seen.add(next);
      const found = walk(next, [...way, next]);
      if (found) return found;
    }
    return null;
  };
  return walk(start, [start]);
}

/**
 * Longest time of a frame on the wire with its intermission, in milliseconds; of a CAN FD frame, the bits that are
 * always at the first rate (17 or 36 before the switch, 13 after it, stuffed) and the rest at the second.
 */
function frameMs(message: Message, bus: GatewayBus): number {
  const flags = (message.extended ? FLAG.extended : 0) | (message.length > 8 ? FLAG.fd : 0);
  const bits = frameBits(flags, message.length).worst;
  if (message.length <= 8) return (1000 * bits) / bus.bitRateBps;
  const slow = Math.ceil((message.extended ? 36 : 17) * 1.25) + 13;
  return (1000 * slow) / bus.bitRateBps + (1000 * (bits - slow)) / (bus.dataBitRateBps ?? bus.bitRateBps);
}

function percent(share: number): string {
  return `${tidy(Math.round(share * 100))} %`;
}
