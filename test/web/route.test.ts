import fc from 'fast-check';
import { expect, test } from 'vitest';
import { addressOf, type Route, routeOf } from '../../web/route.ts';

test('the empty address opens the Build sheet', () => {
  expect(routeOf('')).toEqual({ sheet: 'build' });
  expect(routeOf('#/')).toEqual({ sheet: 'build' });
});

test('a message is addressed by capture, bus and identifier', () => {
  const route: Route = {
    sheet: 'messages',
    capture: 'wheel left/1.pcap',
    message: { bus: 2, id: '18FF1234', ext: 1 },
  };
  expect(addressOf(route)).toBe('#/messages/wheel%20left%2F1.pcap/bus-2/18FF1234x');
  expect(routeOf(addressOf(route))).toEqual(route);
});

test('every address that a sheet can have leads back to it', () => {
  const capture = fc.oneof(
    fc.string({ minLength: 1 }),
    fc.constantFrom('a/b', '100%', '#1 ü.pcap', '..', '漢'),
  );
  const message = fc.record({
    bus: fc.integer({ min: 0, max: 255 }),
    id: fc.integer({ min: 0, max: 0x7ff }).map((id) => id.toString(16).toUpperCase().padStart(3, '0')),
    ext: fc.constant<0>(0),
  });
  const route: fc.Arbitrary<Route> = fc.oneof(
    fc.constantFrom<Route>({ sheet: 'build' }, { sheet: 'guard' }, { sheet: 'dossier' }),
    fc.record({ sheet: fc.constant('captures' as const), capture: fc.option(capture) }),
    fc.record({ sheet: fc.constant('messages' as const), capture, message: fc.option(message) }),
  );
  fc.assert(
    fc.property(route, (r) => {
      expect(routeOf(addressOf(r))).toEqual(r);
    }),
  );
});

test.each([
  '#/nothing',
  '#/guard/more',
  '#/messages/a.pcap/bus-1/XYZ',
  '#/messages/a.pcap/1A2',
  '#/captures/%E0%A4%A/b/c',
])('the address %s names no sheet', (address) => {
  expect(routeOf(address).sheet).toBe('none');
});
