/** The guard: plan, budget, proof, and the evidence that a proof leaves. */
import { readFile } from 'node:fs/promises';
import type { Hono } from 'hono';
import { loadProof } from '../../build/evidence.ts';
import { EVIDENCE_FOLDER } from '../../build/files.ts';
import { stepOf } from '../../build/gatewayOf.ts';
import type { GuardReply, JobReply } from '../api.ts';
import { jsonBody } from '../door.ts';
import { fileIn } from '../files.ts';
import { budgetOf, startProof } from '../guardJob.ts';
import { Refusal } from '../refusal.ts';
import type { Workbench } from '../workbench.ts';

const LARGEST_EVIDENCE = 32 * 1024 * 1024;

export function guardRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/guard', async (c) => {
    const { build, problems } = await workbench.load();
    const kept = await loadProof(workbench.folder, build);
    const { budget, budgetError } =
      build === null ? { budget: null, budgetError: null } : budgetOf(workbench, build);
    return c.json({
      plan: build?.guard ?? null,
      stepMs: build ? stepOf(build) : 10,
      problems: problems.filter((p) => p.file === 'guard.yaml'),
      budget,
      budgetError,
      proof: kept?.form ?? null,
      proofStale: kept?.stale ?? false,
    } satisfies GuardReply);
  });

  app.post('/api/prove', async (c) => {
    await jsonBody(c.req.raw);
    return c.json({ job: await startProof(workbench) } satisfies JobReply, 202);
  });

  app.get('/api/evidence/:file', async (c) => {
    const name = c.req.param('file');
    const { path, bytes } = await fileIn(workbench.folder, EVIDENCE_FOLDER, name);
    if (!name.endsWith('.json') || bytes > LARGEST_EVIDENCE)
      throw new Refusal(415, `evidence/${name} is no JSON file of a size that can be shown`);
    try {
      return c.json(JSON.parse(await readFile(path, 'utf8')) as object);
    } catch {
      throw new Refusal(422, `evidence/${name} is no JSON`);
    }
  });
}
