/** A workbench for tests: pages built afresh, a small invented build with a capture, the real server, and Chromium. */
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { type Browser, chromium, type Page } from 'playwright-core';
import { build, type Rolldown } from 'vite';
import { writeCaptureFile } from '../../src/build/captureFile.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { type RunningServer, startServer } from '../../src/server/start.ts';
import { heaviestSheetKib } from '../../vite.config.ts';
import { wagtail } from '../build/folder.ts';

const CHROMIUM = '/usr/bin/chromium';

/** Whether the page tests are left out because there is no browser; under CI that is a failure. */
export const withoutChromium = (() => {
  if (existsSync(CHROMIUM)) return false;
  const remedy = 'install the Debian package chromium';
  if (process.env['CI'] === 'true') throw new Error(`chromium is missing: ${remedy}`);
  console.log(`skipped: the tests of the pages need chromium (${remedy})`);
  return true;
})();

export interface TestWorkbench {
  folder: string;
  server: RunningServer;
  /** Opens a sheet; what it logs as an error and asks of others is collected in `trouble`. */
  open(address: string, options?: OpenOptions): Promise<{ page: Page; trouble: string[] }>;
  /** Content of a file of the build. */
  file(name: string): string;
  /** Compressed size of the scripts of the sheet that needs most of them, bytes. */
  scriptBytes(): number;
  close(): Promise<void>;
}

export interface OpenOptions {
  colorScheme?: 'light' | 'dark';
  width?: number;
}

export const CAPTURE = 'turns on the stand.pcapng';

export async function startWorkbench(): Promise<TestWorkbench> {
  const root = mkdtempSync(join(tmpdir(), 'bywright-pages-'));
  const web = join(root, 'web');
  const folder = join(root, 'wagtail');
  for (const [name, content] of Object.entries(wagtail())) put(folder, name, content);
  mkdirSync(join(folder, 'captures'));
  await writeCaptureFile(join(folder, 'captures', CAPTURE), recording());
  const built = await build({ configFile: 'vite.config.ts', logLevel: 'error', build: { outDir: web } });
  const { output } = (Array.isArray(built) ? built[0] : built) as Rolldown.RolldownOutput;
  const server = await startServer(folder, { webFolder: web });
  const browser = await launch();
  return {
    folder,
    server,
    open: (address, options = {}) => open(browser, server.url, address, options),
    file: (name) => readFileSync(join(folder, name), 'utf8'),
    scriptBytes: () => 1024 * heaviestSheetKib(output),
    async close() {
      await browser.close();
      await server.close();
      rmSync(root, { recursive: true, force: true });
    },
  };
}

function put(folder: string, name: string, content: string): void {
  mkdirSync(dirname(join(folder, name)), { recursive: true });
  writeFileSync(join(folder, name), content);
}

function launch(): Promise<Browser> {
  return chromium.launch({
    executablePath: CHROMIUM,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

async function open(browser: Browser, url: string, address: string, options: OpenOptions) {
  const page = await browser.newPage({
    viewport: { width: options.width ?? 1280, height: 900 },
    colorScheme: options.colorScheme ?? 'light',
  });
  const trouble: string[] = [];
  page.on('console', (message) => {
    if (['error', 'warning'].includes(message.type())) trouble.push(message.text());
  });
  page.on('pageerror', (error) => trouble.push(error.message));
  page.on('request', (request) => {
    if (!request.url().startsWith(url) && !request.url().startsWith('data:'))
      trouble.push(`asked ${request.url()}`);
  });
  await page.goto(`${url}${address}`);
  return { page, trouble };
}

/**
 * Thirty seconds of two invented buses: what the dictionaries of the build name, and message 1F0 of bus 0, which nobody
 * has named: a 12-bit number that turns to and fro, a counter and an exclusive-or over the rest.
 */
function recording(): Capture {
  const builder = new CaptureBuilder();
  const send = (time: number, bus: number, id: number, payload: number[]) =>
    builder.add(time, bus, id, 0, payload.length, Uint8Array.from(payload), 0, payload.length);
  const low = (value: number) => value & 0xff;
  const high = (value: number) => (value >> 8) & 0xff;
  for (let k = 0; k < 3000; k++) {
    const t = k / 100;
    const speed = Math.round(3000 + 800 * Math.sin(t / 5));
    const angle = Math.round(600 * Math.sin(t / 2) + 200 * Math.sin(t * 1.3));
    if (k % 2 === 0) send(t, 0, 0x0c4, [high(speed), low(speed), 0, 0, 0, 0, 0, 0]);
    send(t + 0.0003, 0, 0x0e5, [low(angle), high(angle), k % 7, 0, 0, 0, 0, 0]);
    if (k % 2 === 0) send(t + 0.0006, 1, 0x120, [low(angle), high(angle), t > 5 ? 1 : 0, 0, 0, 0, 0, 0]);
    if (k % 2 === 0) {
      const travel = 2048 + Math.round(1500 * Math.sin(t / 3) + 300 * Math.sin(t * 1.7));
      const body = [low(travel), high(travel), 0x5a, (k / 2) % 16, 0, 0, 0];
      send(t + 0.0009, 0, 0x1f0, [...body, body.reduce((a, b) => a ^ b, 0)]);
    }
  }
  return builder.finish();
}
