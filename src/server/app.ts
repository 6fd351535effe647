/** The server's requests: who may ask, what can be asked, and how errors are answered. */
import { Hono } from 'hono';
import { type DoorKey, door, security } from './door.ts';
import { pageRoutes } from './pages.ts';
import { errorReply, Refusal } from './refusal.ts';
import { buildRoutes } from './routes/build.ts';
import { captureRoutes } from './routes/captures.ts';
import { cueRoutes } from './routes/cues.ts';
import { dictionaryRoutes } from './routes/dictionary.ts';
import { dossierRoutes } from './routes/dossier.ts';
import { guardRoutes } from './routes/guard.ts';
import { incomingRoutes } from './routes/incoming.ts';
import { jobRoutes } from './routes/jobs.ts';
import { overTimeRoutes } from './routes/overTime.ts';
import { referenceRoutes } from './routes/references.ts';
import { tieRoutes } from './routes/ties.ts';
import type { Workbench } from './workbench.ts';

const ROUTES: readonly ((app: Hono, workbench: Workbench) => void)[] = [
  buildRoutes,
  captureRoutes,
  overTimeRoutes,
  cueRoutes,
  referenceRoutes,
  incomingRoutes,
  tieRoutes,
  dictionaryRoutes,
  guardRoutes,
  jobRoutes,
  dossierRoutes,
];

/** `webFolder` holds the built pages. */
export function createApp(workbench: Workbench, key: DoorKey, webFolder: string): Hono {
  const app = new Hono();
  app.use(security);
  app.use(door(key));
  for (const routes of ROUTES) routes(app, workbench);
  app.all('/api/*', (c) => {
    throw new Refusal(404, `there is nothing to ask under ${c.req.method} ${c.req.path.slice(0, 100)}`);
  });
  pageRoutes(app, webFolder, key.token);
  app.notFound((c) => c.json({ error: 'there is no such page' }, 404));
  app.onError((error, c) => {
    const { status, body } = errorReply(error);
    if (status === 500 && process.env['BYWRIGHT_DEBUG']) process.stderr.write(`${error.stack}\n`);
    return c.json(body, status);
  });
  return app;
}
