/** What goes beyond single messages: ties between signals, followers of cues, other cuts of a field, contradictions. */
import type { Hono } from 'hono';
import { formatId } from '../../can/frame.ts';
import type { JobReply, RetestReply } from '../api.ts';
import { findingsOf, rankedCuesOf, relationsOf, retestOf } from '../findingsJob.ts';
import { Query } from '../query.ts';
import { Refusal } from '../refusal.ts';
import { cutsView } from '../views/cuts.ts';
import { followersView, relationsView } from '../views/ties.ts';
import type { Workbench } from '../workbench.ts';

export function tieRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/captures/:name/relations', async (c) => {
    const file = await workbench.openRecordings(c.req.param('name'));
    const { value, job } = await relationsOf(workbench, file);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const { build } = await workbench.load();
    return c.json(relationsView(file.name, value, build));
  });

  app.get('/api/captures/:name/followers', async (c) => {
    const file = await workbench.openRecordings(c.req.param('name'));
    const { value, job } = await rankedCuesOf(workbench, file);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const { build } = await workbench.load();
    return c.json(followersView(file.name, value, build));
  });

  app.get('/api/captures/:name/cuts', async (c) => {
    const { bus, id, extended, field, selector } = new Query((name) => c.req.query(name)).field();
    const file = await workbench.openRecordings(c.req.param('name'));
    const { findings, job } = await findingsOf(workbench, file);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const message = findings.messages.find((m) => m.bus === bus && m.id === id && m.extended === extended);
    if (message === undefined)
      throw new Refusal(404, `the capture has no message ${formatId(id, extended)} on bus ${bus}`);
    const { capture } = await workbench.readCapture(file);
    return c.json(cutsView(capture, message, field, selector));
  });

  app.get('/api/retest', async (c) => {
    const { value, job } = await retestOf(workbench);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    const { captures, left, contradictions } = value ?? { captures: [], left: [], contradictions: [] };
    return c.json({
      captures,
      left,
      contradictions: contradictions.map(({ id, extended, ...rest }) => ({
        ...rest,
        id: formatId(id, extended),
        ext: extended ? 1 : 0,
      })),
    } satisfies RetestReply);
  });
}
