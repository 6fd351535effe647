/** Addresses of the sheets, kept behind the # so that every sheet can be linked to and opened again. */

export type Route =
  | { sheet: 'build' }
  | { sheet: 'captures'; capture: string | null }
  | { sheet: 'messages'; capture: string | null; message: MessagePlace | null }
  | { sheet: 'guard' }
  | { sheet: 'dossier' }
  | { sheet: 'none'; address: string };

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
  if (route.sheet === 'messages' && route.message !== null) {
    parts.push(`bus-${route.message.bus}`, `${route.message.id}${route.message.ext ? 'x' : ''}`);
  }
  return `#/${parts.join('/')}`;
}

/** Route of an address such as `location.hash`; the empty one is the Build sheet, an unknown one is `none`. */
export function routeOf(hash: string): Route {
  const address = hash.replace(/^#\/?/, '');
  const [sheet = '', first, bus, id, ...more] = address.split('/').map(decoded);
  const capture = first || null;
  const none: Route = { sheet: 'none', address };
  if (more.length > 0) return none;
  if (address === '') return { sheet: 'build' };
  if (sheet === 'messages') {
    if (bus === undefined) return { sheet, capture, message: null };
    const message = messageOf(bus, id ?? '');
    return message ? { sheet, capture, message } : none;
  }
  if (bus !== undefined) return none;
  if (sheet === 'captures') return { sheet, capture };
  if (capture !== null) return none;
  return sheet === 'build' || sheet === 'guard' || sheet === 'dossier' ? { sheet } : none;
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
