/** The printed record, made anew at every request. */
import type { Hono } from 'hono';
import { dossierOf } from '../../build/dossierOf.ts';
import { dossierHtml } from '../../dossier/index.ts';
import { DOSSIER_HEADERS } from '../door.ts';
import { budgetOf } from '../guardJob.ts';
import { Refusal } from '../refusal.ts';
import type { Workbench } from '../workbench.ts';

export function dossierRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/dossier', async (c) => {
    const { build, problems } = await workbench.load();
    if (build === null) throw new Refusal(422, 'the build cannot be read; mend its files first', problems);
    const { budget, budgetError } = budgetOf(workbench, build);
    const input = await dossierOf({
      build,
      problems,
      budget,
      budgetError,
      now: new Date(),
      hash: (path) => workbench.hash(path),
    });
    return c.html(dossierHtml(input), 200, DOSSIER_HEADERS);
  });
}
