/** Cues of a capture: read, changed one at a time in their sheet, and the last changes taken back. */
import type { Hono } from 'hono';
import { z } from 'zod';
import { changeCues, newSheetFile, readCueSheets } from '../../build/cueEdit.ts';
import { cueOverlaps } from '../../build/cueOverlaps.ts';
import { contentHash, saveText } from '../../build/save.ts';
import type { CuesReply } from '../api.ts';
import { jsonBody } from '../door.ts';
import { parsed, Refusal } from '../refusal.ts';
import type { Workbench } from '../workbench.ts';

const short = z.string().max(200);
const hash = z
  .string()
  .regex(/^[0-9a-f]{64}$/)
  .nullable();
const cue = z.strictObject({
  name: short,
  startS: z.number(),
  endS: z.number(),
  level: z.number().optional(),
  note: z.string().max(4000).optional(),
});
const index = z.int().min(0).max(100_000);
const changeBody = z.strictObject({
  file: z.string().max(300),
  hash,
  change: z.discriminatedUnion('do', [
    z.strictObject({ do: z.literal('add'), cue }),
    z.strictObject({ do: z.literal('change'), index, cue }),
    z.strictObject({ do: z.literal('delete'), index }),
  ]),
});

/** A change that can be taken back as long as the file is what it left. */
interface Done {
  file: string;
  before: string;
  afterHash: string;
}

/** Changes of one capture's cues that can be taken back. */
const UNDO_KEPT = 50;

export function cueRoutes(app: Hono, workbench: Workbench): void {
  const done = new Map<string, Done[]>();
  const doneTo = (capture: string) => {
    const list = done.get(capture) ?? [];
    done.set(capture, list);
    return list;
  };

  app.get('/api/captures/:name/cues', async (c) => c.json(await reply(c.req.param('name'))));

  app.post('/api/captures/:name/cues', async (c) => {
    const body = parsed(changeBody, await jsonBody(c.req.raw));
    const name = await knownCapture(c.req.param('name'));
    const { sheets, newFile } = await reply(name);
    const known = [...sheets.map(({ file }) => file), newFile];
    // A sheet that was taken away, or begun, since the page read it is told by the change itself.
    if (!known.includes(body.file) && !/^cues\/[^/\\]+\.yaml$/.test(body.file))
      throw new Refusal(400, `file: found "${body.file.slice(0, 60)}"; expected one of ${known.join(', ')}`);
    const { before, after } = await changeCues(workbench.folder, name, body.file, body.hash, body.change);
    const list = doneTo(name);
    list.push({ file: body.file, before, afterHash: contentHash(after) });
    if (list.length > UNDO_KEPT) list.shift();
    await workbench.lookForChanges();
    return c.json(await reply(name));
  });

  app.post('/api/captures/:name/cues/undo', async (c) => {
    parsed(z.strictObject({}), await jsonBody(c.req.raw));
    const name = await knownCapture(c.req.param('name'));
    const list = doneTo(name);
    const last = list.at(-1);
    if (last === undefined) throw new Refusal(409, 'no change of these cues is left to take back');
    await saveText(workbench.folder, last.file, last.before, last.afterHash);
    list.pop();
    await workbench.lookForChanges();
    return c.json(await reply(name));
  });

  async function knownCapture(name: string): Promise<string> {
    await workbench.openCapture(name);
    return name;
  }

  async function reply(name: string): Promise<CuesReply> {
    await knownCapture(name);
    const { sheets, problems } = await readCueSheets(workbench.folder, name);
    const { build } = await workbench.load();
    // A build lists its YAML sheets before all others.
    const all = build?.cueSheets.filter(({ capture }) => capture === name) ?? [];
    return {
      capture: name,
      sheets: sheets.map(({ file, hash, cues }) => ({ file, hash, cues, overlaps: cueOverlaps(cues) })),
      fixed: all.slice(sheets.length).flatMap(({ cues }) => cues),
      newFile: await newSheetFile(workbench.folder, name),
      problems,
      undo: done.get(name)?.length ?? 0,
    };
  }
}
