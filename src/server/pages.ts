/** The workbench pages: files of `dist/web`, and nothing else from the disk. */
import { readdir, readFile } from 'node:fs/promises';
import { extname, join, relative, sep } from 'node:path';
import type { Context, Hono } from 'hono';
import { TOKEN_META } from './api.ts';
import { Refusal } from './refusal.ts';

const TYPES: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json',
  '.map': 'application/json',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
};

/** Serves the files of `folder` by their names as listed there; the page itself gets the token for writes. */
export function pageRoutes(app: Hono, folder: string, token: string): void {
  const page = async (c: Context) => {
    const html = await readFile(join(folder, 'index.html'), 'utf8').catch(() => {
      throw new Refusal(
        503,
        'the pages are not built: run "npm run build" in the folder of Bywright, then reload',
      );
    });
    return c.body(withToken(html, token), 200, { 'content-type': TYPES['.html'] as string });
  };
  app.get('/', page);
  app.get('/index.html', page);
  app.get('*', async (c) => {
    const wanted = decodedPath(c.req.path);
    const file = (await filesIn(folder)).find((name) => `/${name}` === wanted);
    const type = TYPES[extname(file ?? '')];
    if (file === undefined || type === undefined) throw new Refusal(404, 'there is no such page');
    // Names of built files carry a hash of their content; they never change.
    const forever: Record<string, string> = file.startsWith('assets/')
      ? { 'cache-control': 'max-age=31536000, immutable' }
      : {};
    const bytes = await readFile(join(folder, file));
    return c.body(new Uint8Array(bytes), 200, { 'content-type': type, ...forever });
  });
}

/** The page with the token in its meta tag. */
export function withToken(html: string, token: string): string {
  return html.replace(
    new RegExp(`<meta\\s+name="${TOKEN_META}"[^>]*>`),
    `<meta name="${TOKEN_META}" content="${token}" />`,
  );
}

async function filesIn(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => []);
  return entries
    .filter((entry) => entry.isFile())
    .map((entry) => relative(folder, join(entry.parentPath, entry.name)).replaceAll(sep, '/'));
}

function decodedPath(path: string): string {
  try {
    return decodeURIComponent(path);
  } catch {
    return '';
  }
}
