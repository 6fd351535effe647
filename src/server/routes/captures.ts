/** Captures: summary, bus load, findings, and one field over time. */
import type { Hono } from 'hono';
import { toFindingsForm } from '../../findings/index.ts';
import type { JobReply } from '../api.ts';
import { findingsOf } from '../findingsJob.ts';
import { Query } from '../query.ts';
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
    const file = await workbench.openRecordings(c.req.param('name'));
    const { findings, job } = await findingsOf(workbench, file);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const { build } = await workbench.load();
    return c.json(findingsView(file, findings, toFindingsForm(findings), build));
  });

  app.get('/api/captures/:name/series', async (c) => {
    const query = new Query((name) => c.req.query(name));
    const question = {
      ...query.field(),
      fromS: query.number('from', Number.NEGATIVE_INFINITY),
      toS: query.number('to', Number.POSITIVE_INFINITY),
      points: query.integer('points', 10, 4000, 800),
    };
    const file = await workbench.openRecordings(c.req.param('name'));
    const { capture } = await workbench.readCapture(file);
    return c.json(seriesView(capture, question));
  });
}
