/** Captures: summary, bus load, findings, and one field over time. */
import type { Hono } from 'hono';
import { toFindingsForm } from '../../findings/index.ts';
import type { JobReply } from '../api.ts';
import { findingsOf } from '../findingsJob.ts';
import { Query } from '../query.ts';
import { Refusal } from '../refusal.ts';
import { captureView } from '../views/capture.ts';
import { findingsView } from '../views/findings.ts';
import { loadView } from '../views/load.ts';
import { seriesView } from '../views/series.ts';
import type { Workbench } from '../workbench.ts';

export function captureRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/captures/:name', async (c) => {
    const file = await workbench.openCapture(c.req.param('name'));
    const { build, revision } = await workbench.load();
    const view = await workbench.views.get(`summary ${file.name} ${file.hash} ${revision}`, async () =>
      captureView(
        { name: file.name, bytes: file.bytes, hash: file.hash },
        await workbench.readCapture(file),
        build,
      ),
    );
    return c.json(view as object);
  });

  app.get('/api/captures/:name/load', async (c) => {
    const bins = new Query((name) => c.req.query(name)).integer('bins', 1, 5000, 300);
    const file = await workbench.openCapture(c.req.param('name'));
    const { build, revision } = await workbench.load();
    const view = await workbench.views.get(`load ${bins} ${file.hash} ${revision}`, async () =>
      loadView((await workbench.readCapture(file)).capture, bins, build),
    );
    return c.json(view as object);
  });

  app.get('/api/captures/:name/findings', async (c) => {
    const file = await workbench.openCapture(c.req.param('name'));
    const { findings, job } = await findingsOf(workbench, file);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const { build } = await workbench.load();
    return c.json(findingsView(file, findings, toFindingsForm(findings), build));
  });

  app.get('/api/captures/:name/series', async (c) => {
    const query = new Query((name) => c.req.query(name));
    const { id, extended } = query.message();
    const question = {
      bus: query.integer('bus', 0, 255),
      id,
      extended,
      field: fieldOf(query),
      selector: selectorOf(query.text('selector')),
      fromS: query.number('from', Number.NEGATIVE_INFINITY),
      toS: query.number('to', Number.POSITIVE_INFINITY),
      points: query.integer('points', 10, 4000, 800),
    };
    const file = await workbench.openCapture(c.req.param('name'));
    const { capture } = await workbench.readCapture(file);
    return c.json(seriesView(capture, question));
  });
}

function fieldOf(query: Query) {
  const byteOrder = query.word('byteOrder', ['little', 'big']);
  const signed = query.word('signed', ['false', 'true', 'magnitude'], 'false');
  return {
    start: query.integer('start', 0, 511),
    length: query.integer('length', 1, 64),
    byteOrder,
    signed: signed === 'magnitude' ? signed : signed === 'true',
  };
}

/** "start:length:byteOrder:value" */
function selectorOf(text: string | undefined) {
  if (text === undefined) return null;
  const parts = /^(\d{1,3}):(\d{1,2}):(little|big):(\d{1,10})$/.exec(text);
  const [start, length, value] = [1, 2, 4].map((i) => Number(parts?.[i]));
  if (parts === null || start! > 511 || length! < 1 || length! > 16)
    throw new Refusal(400, 'selector: expected start:length:byteOrder:value, for example 0:8:little:2');
  return {
    field: { start: start!, length: length!, byteOrder: parts[3] as 'little' | 'big' },
    value: value!,
  };
}
