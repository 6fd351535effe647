/** Dictionaries, and the judgement on findings: accepted with their evidence, rejected, put right, taken back. */
import type { Hono } from 'hono';
import { z } from 'zod';
import { acceptFinding, rejectFinding } from '../../build/accept.ts';
import type { DictionaryChange } from '../../build/dictionaryChange.ts';
import { readText } from '../../build/disk.ts';
import type { MoreEvidence } from '../../build/entries.ts';
import { editSignal, rejectEntry, takeBackRejection, undoChange } from '../../build/entryEdit.ts';
import { contentHash } from '../../build/save.ts';
import type { FoundMessage } from '../../findings/model.ts';
import type { DictionaryReply, FindingKey } from '../api.ts';
import { jsonBody } from '../door.ts';
import { findingsOf, knownCuesOf } from '../findingsJob.ts';
import { messageId } from '../query.ts';
import { parsed, Refusal } from '../refusal.ts';
import type { OpenCapture, Workbench } from '../workbench.ts';

const key = z.strictObject({
  id: z.string(),
  ext: z.union([z.literal(0), z.literal(1)]),
  field: z.enum(['signal', 'counter', 'check', 'selector']),
  start: z.int().min(0).max(511),
  length: z.int().min(1).max(64),
  selectorValue: z.int().nullable(),
});
const short = z.string().max(200);
const long = z.string().max(4000);
const cut = {
  start: z.int().min(0).max(511),
  length: z.int().min(1).max(64),
  byteOrder: z.enum(['little', 'big']),
  signed: z.union([z.boolean(), z.literal('magnitude')]),
};
const acceptBody = z.strictObject({
  capture: short,
  key,
  name: short.optional(),
  messageName: short.optional(),
  scale: z.number().optional(),
  offset: z.number().optional(),
  unit: short.optional(),
  note: long.optional(),
  cut: z.strictObject(cut).optional(),
});
const rejectBody = z.strictObject({ capture: short, key, reason: long.optional() });
const place = key.omit({ field: true });
const editBody = z.strictObject({
  place,
  change: z
    .strictObject({
      name: short,
      unit: short,
      scale: z.number(),
      offset: z.number(),
      min: z.number(),
      max: z.number(),
      note: long,
      ...cut,
    })
    .partial(),
});
const reopenBody = z.strictObject({ place });
const turnDownBody = z.strictObject({ place, reason: long.optional() });

/** Changes of one dictionary that can be taken back. */
const UNDO_KEPT = 50;

export function dictionaryRoutes(app: Hono, workbench: Workbench): void {
  const done = new Map<string, DictionaryChange[]>();
  const reply = async (bus: string) => dictionaryReply(workbench, bus, done.get(bus)?.length ?? 0);
  const changed = async (bus: string, change: DictionaryChange) => {
    const list = [...(done.get(bus) ?? []), change].slice(-UNDO_KEPT);
    done.set(bus, list);
    await workbench.lookForChanges();
    return reply(bus);
  };

  app.get('/api/dictionary/:bus', async (c) => c.json(await reply(c.req.param('bus'))));

  app.post('/api/dictionary/:bus/accept', async (c) => {
    const body = parsed(acceptBody, await jsonBody(c.req.raw));
    const bus = c.req.param('bus');
    const { found, capture, opened } = await foundMessage(workbench, bus, body.capture, body.key);
    const more = body.key.field === 'signal' ? await cuesFollowed(workbench, opened, found, body.key) : [];
    const acceptance = { ...body, capture, more };
    return c.json(
      await changed(bus, await acceptFinding(workbench.folder, bus, found, body.key, acceptance)),
    );
  });

  app.post('/api/dictionary/:bus/reject', async (c) => {
    const body = parsed(rejectBody, await jsonBody(c.req.raw));
    const bus = c.req.param('bus');
    const { found, capture } = await foundMessage(workbench, bus, body.capture, body.key);
    const rejection = { capture, reason: body.reason };
    return c.json(await changed(bus, await rejectFinding(workbench.folder, bus, found, body.key, rejection)));
  });

  app.post('/api/dictionary/:bus/edit', async (c) => {
    const body = parsed(editBody, await jsonBody(c.req.raw));
    const bus = await knownBus(workbench, c.req.param('bus'));
    const where = { ...body.place, ...messageId(body.place.id, body.place.ext) };
    return c.json(await changed(bus, await editSignal(workbench.folder, bus, where, body.change)));
  });

  app.post('/api/dictionary/:bus/turn-down', async (c) => {
    const body = parsed(turnDownBody, await jsonBody(c.req.raw));
    const bus = await knownBus(workbench, c.req.param('bus'));
    const where = { ...body.place, ...messageId(body.place.id, body.place.ext) };
    return c.json(await changed(bus, await rejectEntry(workbench.folder, bus, where, body.reason)));
  });

  app.post('/api/dictionary/:bus/reopen', async (c) => {
    const body = parsed(reopenBody, await jsonBody(c.req.raw));
    const bus = await knownBus(workbench, c.req.param('bus'));
    const where = { ...body.place, ...messageId(body.place.id, body.place.ext) };
    return c.json(await changed(bus, await takeBackRejection(workbench.folder, bus, where)));
  });

  app.post('/api/dictionary/:bus/undo', async (c) => {
    parsed(z.strictObject({}), await jsonBody(c.req.raw));
    const bus = await knownBus(workbench, c.req.param('bus'));
    const list = done.get(bus) ?? [];
    const last = list.at(-1);
    if (last === undefined) throw new Refusal(409, 'no change of this dictionary is left to take back');
    await undoChange(workbench.folder, last);
    done.set(bus, list.slice(0, -1));
    await workbench.lookForChanges();
    return c.json(await reply(bus));
  });
}

async function knownBus(workbench: Workbench, bus: string): Promise<string> {
  const { build } = await workbench.load();
  if (!build?.buses.some((b) => b.name === bus))
    throw new Refusal(404, `buses.yaml has no bus "${bus.slice(0, 60)}", or cannot be read`);
  return bus;
}

async function dictionaryReply(workbench: Workbench, bus: string, undo: number): Promise<DictionaryReply> {
  await knownBus(workbench, bus);
  const { build, problems } = await workbench.load();
  const file = `dictionary/${bus}.yaml`;
  const read = await readText(workbench.folder, file);
  return {
    bus,
    hash: read.kind === 'read' ? contentHash(read.bytes) : '',
    dictionary: build?.dictionaries.find((d) => d.bus === bus) ?? null,
    problems: problems.filter((p) => p.file === file),
    undo,
  };
}

/** The finding as it was worked out here: what a page sends is only its place, so that evidence cannot be made up. */
async function foundMessage(
  workbench: Workbench,
  busName: string,
  captureName: string,
  where: FindingKey,
): Promise<{ found: FoundMessage; capture: string; opened: OpenCapture }> {
  const { build } = await workbench.load();
  const bus = build?.buses.find((b) => b.name === busName);
  if (bus === undefined)
    throw new Refusal(404, `buses.yaml has no bus "${busName.slice(0, 60)}", or cannot be read`);
  const opened = await workbench.openRecordings(captureName);
  const { findings } = await findingsOf(workbench, opened);
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
  const capture = opened.parts?.map(({ name }) => name).join(', ') ?? opened.name;
  return { found: message, capture, opened };
}

/** Chance below which a cue stands as evidence beside an entry. */
const FOLLOWS = 0.05;

/** Cues of this capture that the field, as a whole, followed; only what was worked out already. */
async function cuesFollowed(
  workbench: Workbench,
  opened: OpenCapture,
  { bus, id, extended }: FoundMessage,
  { start, length }: FindingKey,
): Promise<MoreEvidence[]> {
  const cues = (await knownCuesOf(workbench, opened)) ?? [];
  return cues.flatMap(({ name, candidates }) => {
    const followed = candidates.find(
      (c) =>
        c.bus === bus && c.id === id && c.extended === extended && c.start === start && c.length === length,
    );
    if (followed === undefined || followed.pValue > FOLLOWS) return [];
    const chance = Number(followed.pValue.toPrecision(2));
    return [
      {
        text: `followed the cue “${name}”, chance ${chance}: ${followed.evidence[0]?.text ?? ''}`,
        cue: name,
      },
    ];
  });
}
