/** Dictionaries, and the judgement on findings: accepted with their evidence, or rejected. */
import type { Hono } from 'hono';
import { z } from 'zod';
import { acceptFinding, rejectFinding } from '../../build/accept.ts';
import { readText } from '../../build/disk.ts';
import { contentHash } from '../../build/save.ts';
import type { FoundMessage } from '../../findings/model.ts';
import type { DictionaryReply, FindingKey } from '../api.ts';
import { jsonBody } from '../door.ts';
import { findingsOf } from '../findingsJob.ts';
import { messageId } from '../query.ts';
import { parsed, Refusal } from '../refusal.ts';
import type { Workbench } from '../workbench.ts';

const key = z.strictObject({
  id: z.string(),
  ext: z.union([z.literal(0), z.literal(1)]),
  field: z.enum(['signal', 'counter', 'check', 'selector']),
  start: z.int().min(0).max(511),
  length: z.int().min(1).max(64),
  selectorValue: z.int().nullable(),
});
const short = z.string().max(200);
const acceptBody = z.strictObject({
  capture: short,
  key,
  name: short.optional(),
  messageName: short.optional(),
  scale: z.number().optional(),
  offset: z.number().optional(),
  unit: short.optional(),
  note: z.string().max(4000).optional(),
});
const rejectBody = z.strictObject({ capture: short, key, reason: z.string().max(4000).optional() });

export function dictionaryRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/dictionary/:bus', async (c) => c.json(await dictionaryReply(workbench, c.req.param('bus'))));

  app.post('/api/dictionary/:bus/accept', async (c) => {
    const body = parsed(acceptBody, await jsonBody(c.req.raw));
    const bus = c.req.param('bus');
    const found = await foundMessage(workbench, bus, body.capture, body.key);
    await acceptFinding(workbench.folder, bus, found, body.key, body);
    await workbench.lookForChanges();
    return c.json(await dictionaryReply(workbench, bus));
  });

  app.post('/api/dictionary/:bus/reject', async (c) => {
    const body = parsed(rejectBody, await jsonBody(c.req.raw));
    const bus = c.req.param('bus');
    const found = await foundMessage(workbench, bus, body.capture, body.key);
    await rejectFinding(workbench.folder, bus, found, body.key, body);
    await workbench.lookForChanges();
    return c.json(await dictionaryReply(workbench, bus));
  });
}

async function dictionaryReply(workbench: Workbench, bus: string): Promise<DictionaryReply> {
  const { build, problems } = await workbench.load();
  if (!build?.buses.some((b) => b.name === bus))
    throw new Refusal(404, `buses.yaml has no bus "${bus.slice(0, 60)}", or cannot be read`);
  const file = `dictionary/${bus}.yaml`;
  const read = await readText(workbench.folder, file);
  return {
    bus,
    hash: read.kind === 'read' ? contentHash(read.bytes) : '',
    dictionary: build.dictionaries.find((d) => d.bus === bus) ?? null,
    problems: problems.filter((p) => p.file === file),
  };
}

/** The finding as it was worked out here: what a page sends is only its place, so that evidence cannot be made up. */
async function foundMessage(
  workbench: Workbench,
  busName: string,
  captureName: string,
  where: FindingKey,
): Promise<FoundMessage> {
  const { build } = await workbench.load();
  const bus = build?.buses.find((b) => b.name === busName);
  if (bus === undefined)
    throw new Refusal(404, `buses.yaml has no bus "${busName.slice(0, 60)}", or cannot be read`);
  const { findings } = await findingsOf(workbench, await workbench.openCapture(captureName));
  if (findings === null)
    throw new Refusal(
      409,
      'the findings of this capture are still being worked out; try again when they are there',
    );
  const { id, extended } = messageId(where.id, where.ext);
  const message = findings.messages.find(
    (m) => m.bus === bus.number && m.id === id && m.extended === extended,
  );
  if (message === undefined)
    throw new Refusal(404, `the capture has no message ${where.id} on bus ${busName} (number ${bus.number})`);
  return message;
}
