/** What only drive owes: never together with braking, gone at once, and two voltages that belong together. */
import type { ChannelWatch } from './channelWatch.ts';
import { yieldsTo } from './limits.ts';
import type { Obligation, Watch } from './watch.ts';

export function drive(w: Watch): Obligation[] {
  const channel = w.channels.find(({ c }) => c.key === 'drive');
  if (channel === undefined) return [];
  const { b } = w;
  const yields = yieldsTo(w, channel);
  const zero = b.eq(channel.now.order, b.const(0));
  return [
    {
      name: 'drive.gone',
      sentence: 'In every step in which the guard is not armed, no drive is ordered.',
      when: b.not(w.nowIs('armed')),
      must: zero,
    },
    ...(yields === null
      ? []
      : [
          {
            name: 'drive.yields',
            sentence:
              'Braking and drive are never ordered together: with a braking order there is none for drive.',
            when: yields,
            must: zero,
          },
        ]),
    ...tracks(w, channel),
  ];
}

function tracks({ b }: Watch, { c, now }: ChannelWatch): Obligation[] {
  const [first, second] = c.tracks;
  const [a, z] = now.tracks;
  if (!first || !second || a === undefined || z === undefined) return [];
  const spans = [first.fullMv - first.restMv, second.fullMv - second.restMv] as const;
  // |(z − rest₂)·span₁ − (a − rest₁)·span₂| ≤ window·|span₁|: the second where the first says it belongs.
  const apart = b.abs(
    b.sub(
      b.mulk(b.sub(z, b.const(second.restMv)), spans[0]),
      b.mulk(b.sub(a, b.const(first.restMv)), spans[1]),
    ),
  );
  const volts = (mv: number) => `${mv / 1000} V`;
  const relation = `${volts(second.restMv)} + (first − ${volts(first.restMv)}) × ${Math.round((1e4 * spans[1]) / spans[0]) / 1e4}`;
  const within = (node: typeof a, { restMv, fullMv }: typeof first) =>
    b.and(b.le(b.const(Math.min(restMv, fullMv)), node), b.le(node, b.const(Math.max(restMv, fullMv))));
  return [
    {
      name: 'drive.tracks-agree',
      sentence: `At every step the second voltage is within ${volts(c.windowMv)} of ${relation}.`,
      when: b.bool(true),
      must: b.le(apart, b.const(c.windowMv * Math.abs(spans[0]))),
    },
    {
      name: 'drive.tracks-range',
      sentence: `At every step each voltage lies between rest and full: ${c.tracks.map((t) => `${volts(t.restMv)} … ${volts(t.fullMv)}`).join(', ')}.`,
      when: b.bool(true),
      must: b.and(within(a, first), within(z, second)),
    },
    {
      name: 'drive.tracks-rest',
      sentence: 'With no drive ordered, both voltages are those of an untouched pedal.',
      when: b.eq(now.order, b.const(0)),
      must: b.and(b.eq(a, b.const(first.restMv)), b.eq(z, b.const(second.restMv))),
    },
    {
      name: 'drive.tracks-full',
      sentence:
        'With drive ordered, the voltages follow it: each is where that share of its way from rest to full is, to the millivolt below.',
      when: b.not(b.eq(now.order, b.const(0))),
      must: b.and(follows(b, now.order, a, first, c.reach), follows(b, now.order, z, second, c.reach)),
    },
  ];
}

/** order·span − reach < |mv − rest|·reach ≤ order·span. */
function follows(
  b: Watch['b'],
  order: number,
  mv: number,
  { restMv, fullMv }: { restMv: number; fullMv: number },
  reach: number,
): number {
  const way = b.mulk(b.abs(b.sub(mv, b.const(restMv))), reach);
  const exact = b.mulk(order, Math.abs(fullMv - restMv));
  return b.and(b.le(way, exact), b.lt(exact, b.add(way, b.const(reach))));
}
