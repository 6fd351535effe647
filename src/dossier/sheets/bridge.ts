/** The bridge: the gateway's message plan, one route a line. */
import type { Route, RouteSignal } from '../../bridge/model.ts';
import { type Html, html } from '../html.ts';
import type { DossierInput } from '../input.ts';
import { type Numbering, note, sheet, table } from '../sheet.ts';
import { figure, measure } from '../words.ts';

export const bridgeTitle = 'Bridge';

export function bridgeSheet({ bridge }: DossierInput, numbering: Numbering): Html {
  const number = numbering.sheet();
  const routes = bridge?.routes ?? [];
  return sheet({
    number,
    title: bridgeTitle,
    start: 'flow',
    lead: 'What the gateway reads on one bus and sends on another, how often, and what it does when a source falls silent.',
    notes: [
      ...(bridge === null
        ? []
        : [note('Step', `The gateway computes once in ${measure(bridge.stepMs, 'ms')}.`)]),
      note('Source', 'bridge.yaml of the build.'),
    ],
    body: routes.length === 0 ? html`<p>The build has no routes.</p>` : html`${routes.map(routePart)}`,
  });
}

function routePart(route: Route): Html {
  const loss =
    route.onLoss === 'stop' ? 'then sending stops' : 'then sending goes on with the values for loss below';
  const title = html`${route.name} <small>to ${route.to.message} on bus ${route.to.bus} · every ${measure(route.periodMs, 'ms')}</small>
<span class="remark">${route.note ?? ''} A source older than ${measure(route.sourceAgeMs, 'ms')} counts as lost; ${loss}.</span>`;
  return html`<div class="message">${table(
    [
      { title: 'written', share: 26 },
      { title: 'from', share: 56 },
      { title: 'on loss', share: 18 },
    ],
    route.signals.map(signalRow),
    title,
  )}</div>
`;
}

function signalRow(line: RouteSignal): (Html | string)[] {
  const { from, value, gain, bias } = line;
  const scaled =
    gain === 1 && bias === 0 ? '' : ` × ${figure(gain)}${bias === 0 ? '' : ` + ${figure(bias)}`}`;
  const source =
    from === undefined
      ? `constant ${figure(value ?? 0)}`
      : `${from.signal} of ${from.message} on bus ${from.bus}${scaled}`;
  return [line.to, source, line.onLoss === 'hold' ? 'hold the last' : figure(line.onLoss)];
}
