/** Reference channels of a capture: listed, laid over a signal, and their clock accepted. */
import type { Hono } from 'hono';
import { z } from 'zod';
import { acceptClock, clockEntry, referenceNamed } from '../../build/reference/accept.ts';
import { signalNamed } from '../../build/reference/signal.ts';
import { type AlignOptions, alignReference } from '../../capture/reference/align.ts';
import { jsonBody } from '../door.ts';
import { Query } from '../query.ts';
import { parsed, Refusal } from '../refusal.ts';
import { alignmentView, referencesView } from '../views/references.ts';
import type { Workbench } from '../workbench.ts';

const RELATIONS = ['either', 'together', 'opposite'] as const;
const WITHIN_S = 10;

const acceptBody = z.strictObject({
  channel: z.string().max(300),
  signal: z.string().max(300),
  relation: z.enum(RELATIONS).optional(),
  near: z.number().optional(),
  within: z.number().positive().optional(),
  offsetS: z.number(),
});

interface Question {
  channel: string;
  signal: string;
  options: AlignOptions;
}

export function referenceRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/captures/:name/references', async (c) => c.json(await listed(c.req.param('name'))));

  app.get('/api/captures/:name/references/alignment', async (c) => {
    const query = new Query((name) => c.req.query(name));
    const near = query.text('near') === undefined ? undefined : query.number('near', 0);
    const relation = query.word('relation', RELATIONS, 'either');
    const within = query.number('within', WITHIN_S);
    const { reference, signal, result } = await aligned(c.req.param('name'), {
      channel: query.text('channel') ?? '',
      signal: query.text('signal') ?? '',
      options: optionsOf(relation, near, within),
    });
    return c.json(alignmentView(reference, signal, result, now()));
  });

  app.post('/api/captures/:name/references/accept', async (c) => {
    const body = parsed(acceptBody, await jsonBody(c.req.raw));
    const { channel, signal: words, relation = 'either', near, within = WITHIN_S, offsetS } = body;
    const name = c.req.param('name');
    const question = { channel, signal: words, options: optionsOf(relation, near, within) };
    const { reference, signal, result } = await aligned(name, question);
    if ('reason' in result) throw new Refusal(409, `nothing was written: ${result.reason}`);
    if (Math.abs(result.offsetS - offsetS) > 1e-6)
      throw new Refusal(
        409,
        'nothing was written: the offset comes out otherwise now than when it was shown; look at it again',
      );
    if (result.rivals.length > 0)
      throw new Refusal(
        409,
        'nothing was written: several offsets fit nearly as well; look near one of them first',
      );
    await acceptClock(workbench.folder, reference, clockEntry(result, signal.words, now()));
    await workbench.lookForChanges();
    return c.json(await listed(name));
  });

  async function opened(name: string) {
    const file = await workbench.openCapture(name);
    const { build, problems, revision } = await workbench.load();
    if (build === null) throw new Refusal(409, 'the build cannot be read; mend its files first', problems);
    return { file, build, revision };
  }

  async function listed(name: string) {
    const { file, build } = await opened(name);
    const dated = build.references.some(
      (r) => r.file.capture === name && (r.series?.originNs ?? null) !== null,
    );
    const originNs = dated ? (await workbench.readCapture(file)).capture.originNs : 0n;
    return referencesView(build, name, originNs);
  }

  async function aligned(name: string, { channel, signal: words, options }: Question) {
    const { file, build, revision } = await opened(name);
    const reference = referenceNamed(build, name, channel);
    const named = signalNamed(build, words);
    const key = `alignment ${file.hash} ${revision} ${JSON.stringify([reference.path, named.words, options])}`;
    const made = await workbench.views.get(key, async () => {
      const series = named.series((await workbench.readCapture(file)).capture);
      const result =
        reference.series === null
          ? { reason: `the data of "${channel}" cannot be used; the problems of the build say why` }
          : alignReference(reference.series, series, options);
      return { series, result };
    });
    const { series, result } = made as {
      series: ReturnType<typeof named.series>;
      result: ReturnType<typeof alignReference>;
    };
    return { reference, signal: { words: named.words, series }, result };
  }
}

function optionsOf(
  relation: (typeof RELATIONS)[number],
  near: number | undefined,
  within: number,
): AlignOptions {
  return near === undefined ? { relation } : { relation, aroundS: near, withinS: within };
}

function now(): string {
  return `${new Date().toISOString().slice(0, 19)}Z`;
}
