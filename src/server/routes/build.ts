/** The build itself. */
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Hono } from 'hono';
import { listFolder } from '../../build/disk.ts';
import { loadProof } from '../../build/evidence.ts';
import { CAPTURES_FOLDER } from '../../build/files.ts';
import type { CaptureFileSummary } from '../api.ts';
import { buildView } from '../views/build.ts';
import type { Workbench } from '../workbench.ts';

export function buildRoutes(app: Hono, workbench: Workbench): void {
  app.get('/api/build', async (c) => {
    const loaded = await workbench.load();
    const proof = await loadProof(workbench.folder, loaded.build);
    return c.json(buildView(workbench.folder, loaded, await captureFiles(workbench.folder), proof));
  });
}

async function captureFiles(folder: string): Promise<CaptureFileSummary[]> {
  const { names } = await listFolder(folder, CAPTURES_FOLDER);
  const files: CaptureFileSummary[] = [];
  for (const name of names) {
    const found = await stat(join(folder, CAPTURES_FOLDER, name)).catch(() => null);
    if (found?.isFile()) files.push({ name, bytes: found.size, changed: found.mtime.toISOString() });
  }
  return files;
}
