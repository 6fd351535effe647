/** Jobs and the stream of events. */
import type { Hono } from 'hono';
import type { JobReply, JobsReply } from '../api.ts';
import { Refusal } from '../refusal.ts';
import { folderMark } from '../watch.ts';
import type { Workbench } from '../workbench.ts';

/** A browser opens one stream per page; more than this is no browser. */
const MAX_STREAMS = 50;

export function jobRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/jobs', (c) => c.json({ jobs: workbench.jobs.list() } satisfies JobsReply));

  app.post('/api/cancel/:job', (c) => {
    const job = workbench.jobs.cancel(c.req.param('job'));
    if (job === null)
      throw new Refusal(404, 'there is no such job; it may be from before the server was started');
    return c.json({ job } satisfies JobReply);
  });

  app.get('/api/events', async () => {
    if (workbench.events.listening >= MAX_STREAMS)
      throw new Refusal(503, 'too many pages are open on this server; close some');
    return workbench.events.stream({
      event: 'hello',
      data: { revision: await folderMark(workbench.folder) },
    });
  });
}
