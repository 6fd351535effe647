/** A capture over time, for the time axis: rates and single frames of a stretch, and one field of it. Replies are packed columns. */
import type { Context, Hono } from 'hono';
import { type Column, packed } from '../../capture/overview/index.ts';
import type { LaneHead, OverviewHead } from '../api.ts';
import { Query } from '../query.ts';
import { Refusal } from '../refusal.ts';
import { busOf } from '../views/capture.ts';
import type { Workbench } from '../workbench.ts';

export function overTimeRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/captures/:name/overview', async (c) => {
    const query = new Query((name) => c.req.query(name));
    const asked = stretchOf(query);
    const most = query.integer('frames', 0, 4000, 0);
    const over = await workbench.overTime(await workbench.openCapture(c.req.param('name')));
    const { build } = await workbench.load();
    const { rate } = over;
    const from = asked.from ?? rate.first;
    const to = asked.to ?? rate.last;
    const view = rate.view(from, to, asked.pixels);
    const { count, frames } = over.frames(from, to, most);
    const columns: Record<string, Column> = {};
    for (const { bus, mean, low, high } of view.buses)
      Object.assign(columns, { [`mean ${bus}`]: mean, [`low ${bus}`]: low, [`high ${bus}`]: high });
    const head: OverviewHead = {
      first: rate.first,
      last: rate.last,
      from,
      to,
      count,
      hasFrames: frames !== null,
      start: view.start,
      cellS: view.cellS,
      finestS: rate.cellS,
      buses: rate.buses.map((bus, i) => ({
        bus,
        name: busOf(build, bus)?.name ?? null,
        frames: rate.frames[i] as number,
      })),
    };
    return reply(c, head, { ...columns, ...frames });
  });

  app.get('/api/captures/:name/lane', async (c) => {
    const query = new Query((name) => c.req.query(name));
    const question = query.field();
    const asked = stretchOf(query);
    const over = await workbench.overTime(await workbench.openCapture(c.req.param('name')));
    const field = await over.field(question);
    const from = asked.from ?? over.rate.first;
    const to = asked.to ?? over.rate.last;
    const view = field.view(from, to, asked.pixels);
    const common = { from, to, frames: field.time.length, range: field.range() };
    if (view.kind === 'single') {
      const { kind, time, value } = view;
      return reply(c, { ...common, kind } satisfies LaneHead, { time, value });
    }
    const { kind, start, cellS, low, high } = view;
    return reply(c, { ...common, kind, start, cellS } satisfies LaneHead, { low, high });
  });
}

/** `from` and `to` in seconds, the whole recording where they are not given, and into how many pixels it goes. */
function stretchOf(query: Query): { from: number | null; to: number | null; pixels: number } {
  const end = (name: string) => (query.text(name) === undefined ? null : query.number(name, 0));
  const [from, to] = [end('from'), end('to')];
  if (from !== null && to !== null && to <= from)
    throw new Refusal(400, `to: found "${to}"; expected a number above from, ${from}`);
  return { from, to, pixels: query.integer('pixels', 1, 8000, 1000) };
}

function reply(c: Context, head: unknown, columns: Record<string, Column>) {
  return c.body(packed(head, columns), 200, { 'content-type': 'application/octet-stream' });
}
