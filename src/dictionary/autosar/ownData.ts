/**
 * What AUTOSAR has no element for (evidence, state, counters, check fields of any kind) stands in special data groups, the place that
 * AUTOSAR gives for such: ADMIN-DATA > SDGS > SDG with GID "Bywright", one SD a field, its value in JSON.
 */
import { child, type Element, list, type Written } from '../xml.ts';

const GID = 'Bywright';

/** Fields of our own group of an element; {} where there is none or it is damaged. */
export function exactOf(element: Element): Record<string, unknown> {
  const group = list(child(element, 'ADMIN-DATA'), 'SDGS', 'SDG').find((g) => g.attributes['GID'] === GID);
  const fields: [string, unknown][] = [];
  for (const data of group?.children ?? []) {
    const key = data.attributes['GID'] ?? '';
    if (data.name !== 'SD' || !/^[a-z_]+$/.test(key)) continue;
    try {
      fields.push([key, JSON.parse(data.text)]);
    } catch {
      // Damaged private data costs no more than itself: the standard elements stand.
      return {};
    }
  }
  return Object.fromEntries(fields);
}

/** The same as an element; null where there is nothing to say. */
export function ownData(fields: Record<string, unknown>): Written | null {
  const entries = Object.entries(fields);
  if (entries.length === 0) return null;
  const data = entries.map(([key, value]): Written => [`SD GID="${key}"`, exactJson(value)]);
  return ['ADMIN-DATA', [['SDGS', [[`SDG GID="${GID}"`, data]]]]];
}

/**
 * A message entry with the fields of our own group laid over it. `rejected` are signals that were turned down, each with
 * its place in the list: they are no definitions, so that no standard element speaks of them.
 */
export function withExact(entry: Record<string, unknown>, frame: Element): Record<string, unknown> {
  const { rejected, order, ...fields } = exactOf(frame);
  let signals = entry['signals'] as { name: string }[];
  if (Array.isArray(order)) {
    const rank = (signal: { name: string }) => {
      const at = order.indexOf(signal.name);
      return at < 0 ? order.length : at;
    };
    signals = [...signals].sort((a, b) => rank(a) - rank(b));
  }
  if (Array.isArray(rejected))
    for (const one of rejected as { at?: unknown; signal?: unknown }[])
      if (typeof one?.at === 'number' && typeof one.signal === 'object')
        signals.splice(one.at, 0, one.signal as { name: string });
  return { ...laidOver(entry, fields), signals };
}

/** Fields over an entry; null says that there is none of it. */
export function laidOver(
  entry: Record<string, unknown>,
  fields: Record<string, unknown>,
): Record<string, unknown> {
  return Object.fromEntries(Object.entries({ ...entry, ...fields }).filter(([, value]) => value !== null));
}

/** JSON in characters that XML keeps. */
function exactJson(value: unknown): string {
  return JSON.stringify(value).replace(
    /[\p{Cc}\p{Cs}\ufffe\uffff]/gu,
    (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}
