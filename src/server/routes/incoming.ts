/** Recordings sent by a page: taken in beside the captures, looked at, then accepted under a name or deleted. */
import type { Hono } from 'hono';
import { z } from 'zod';
import type { IncomingReply, JobReply } from '../api.ts';
import { jsonBody, RECORDING_PATH } from '../door.ts';
import { LARGEST_RECORDING_BYTES } from '../incoming.ts';
import { acceptArrived, incomingKey, readingOf } from '../incomingReading.ts';
import { Refusal } from '../refusal.ts';
import type { Workbench } from '../workbench.ts';

const acceptBody = z.strictObject({ name: z.string().max(300), columns: z.string().max(1000).optional() });

export function incomingRoutes(app: Hono, workbench: Workbench): void {
  const { incoming } = workbench;
  const reply = async (): Promise<IncomingReply> => ({
    waiting: incoming.list(),
    largestBytes: LARGEST_RECORDING_BYTES,
    freeBytes: await incoming.freeBytes(),
  });

  app.get(RECORDING_PATH, async (c) => c.json(await reply()));

  app.post(RECORDING_PATH, async (c) => {
    const length = c.req.header('content-length');
    const { build } = await workbench.load();
    if (build === null)
      throw new Refusal(409, 'the build cannot be read: mend what sheet 1 lists, then send the recording');
    const name = c.req.query('name') ?? '';
    const { id, bytes } = await incoming.receive(
      name,
      c.req.raw.body,
      length === undefined ? null : Number(length),
    );
    return c.json({ id, name, bytes }, 201);
  });

  app.get(`${RECORDING_PATH}/:id`, async (c) => {
    const columns = (c.req.query('columns') ?? '').trim();
    if (columns.length > 1000) throw new Refusal(400, 'columns: found more than 1000 characters');
    const arrived = incoming.get(c.req.param('id'));
    const failed = workbench.jobs.failed(incomingKey(arrived.id, columns));
    if (failed !== null) throw new Refusal(422, failed.error ?? 'it could not be read');
    const { reading, job } = await readingOf(workbench, arrived, columns);
    if (job !== null) return c.json({ job } satisfies JobReply, 202);
    return c.json(reading);
  });

  app.post(`${RECORDING_PATH}/:id/accept`, async (c) => {
    const body = acceptBody.safeParse(await jsonBody(c.req.raw));
    if (!body.success) throw new Refusal(400, 'the body has to hold name and, where named, columns');
    const { name, columns } = body.data;
    await acceptArrived(workbench, incoming.get(c.req.param('id')), name, (columns ?? '').trim());
    // The pages hear of the new file from the folder's watch, a moment after this reply: they have let go of it by then.
    return c.json({ name }, 201);
  });

  app.post(`${RECORDING_PATH}/:id/refuse`, async (c) => {
    await jsonBody(c.req.raw);
    const { id } = incoming.get(c.req.param('id'));
    await incoming.remove(id);
    workbench.jobs.cancelWhere((key) => key.startsWith(incomingKey(id, '')));
    return c.json(await reply());
  });
}
