/** Addresses of the sheets, kept behind the # so that every sheet can be linked to and opened again. */

export type Route =
  | { sheet: 'build' }
  /** `lane`: a field to draw over time, as `parts/timeline/lanes.ts` spells it. */
  | { sheet: 'captures'; capture: string | null; lane?: string }
  | { sheet: 'messages'; capture: string | null; message: MessagePlace | null; view?: MessagesView }
  | { sheet: 'guard' }
  | { sheet: 'dossier' }
  | { sheet: 'none'; address: string };

/** What the Messages sheet shows beside its list; `signal` is where the walk through the relations stands. */
export type MessagesView = { kind: 'cues' } | { kind: 'relations'; signal?: SignalPlace };

/** A signal by its message and its start bit. */
export interface SignalPlace extends MessagePlace {
  start: number;
}

/** Stands in addresses for all captures of the build together; the same as `TOGETHER` of the server. */
export const TOGETHER = '*';

/** A capture in words: its name, or that it is all of them. */
export function captureWords(capture: string): string {
  return capture === TOGETHER ? 'all captures' : capture;
}

/** A message of a capture: bus number, identifier in hex and whether it has 29 bits. */
export interface MessagePlace {
  bus: number;
  id: string;
  ext: 0 | 1;
}

export const SHEETS = [
  { number: 1, sheet: 'build', title: 'Build' },
  { number: 2, sheet: 'captures', title: 'Captures' },
  { number: 3, sheet: 'messages', title: 'Messages' },
  { number: 4, sheet: 'guard', title: 'Guard' },
  { number: 5, sheet: 'dossier', title: 'Dossier' },
] as const;

/** Address of a route, starting with "#/". */
export function addressOf(route: Route): string {
  const parts: string[] = [route.sheet === 'none' ? route.address : route.sheet];
  if ('capture' in route && route.capture !== null) parts.push(encodeURIComponent(route.capture));
  if (route.sheet === 'captures' && route.capture !== null && route.lane)
    parts.push('lane', encodeURIComponent(route.lane));
  if (route.sheet === 'messages') {
    const { message, view } = route;
    if (message !== null) parts.push(...messageParts(message));
    else if (view) parts.push(view.kind);
    if (view?.kind === 'relations' && view.signal)
      parts.push(...messageParts(view.signal), String(view.signal.start));
  }
  return `#/${parts.join('/')}`;
}

/** Route of an address such as `location.hash`; the empty one is the Build sheet, an unknown one is `none`. */
export function routeOf(hash: string): Route {
  const address = hash.replace(/^#\/?/, '');
  const [sheet = '', first, second, third, ...more] = address.split('/').map(decoded);
  const capture = first || null;
  const none: Route = { sheet: 'none', address };
  if (address === '') return { sheet: 'build' };
  if (sheet === 'messages') {
    if (second === undefined) return { sheet, capture, message: null };
    const view = viewOf([second, third, ...more].filter((part) => part !== undefined));
    if (view) return { sheet, capture, message: null, view };
    const message = more.length > 0 ? null : messageOf(second, third ?? '');
    return message ? { sheet, capture, message } : none;
  }
  if (more.length > 0) return none;
  if (sheet === 'captures' && second === 'lane' && third) return { sheet, capture, lane: third };
  if (second !== undefined) return none;
  if (sheet === 'captures') return { sheet, capture };
  if (capture !== null) return none;
  return sheet === 'build' || sheet === 'guard' || sheet === 'dossier' ? { sheet } : none;
}

function messageParts({ bus, id, ext }: MessagePlace): string[] {
  return [`bus-${bus}`, `${id}${ext ? 'x' : ''}`];
}

function viewOf([kind, bus, id, start, ...more]: string[]): MessagesView | null {
  if (more.length > 0) return null;
  if (kind === 'cues') return bus === undefined ? { kind } : null;
  if (kind !== 'relations') return null;
  if (bus === undefined) return { kind };
  const message = messageOf(bus, id ?? '');
  return message && /^\d{1,3}$/.test(start ?? '')
    ? { kind, signal: { ...message, start: Number(start) } }
    : null;
}

function messageOf(bus: string, id: string): MessagePlace | null {
  const number = /^bus-(\d{1,3})$/.exec(bus)?.[1];
  const [, hex, ext] = /^([0-9A-F]{3}|[0-9A-F]{8})(x?)$/.exec(id) ?? [];
  return number === undefined || hex === undefined
    ? null
    : { bus: Number(number), id: hex, ext: ext ? 1 : 0 };
}

function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}
