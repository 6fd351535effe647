/**
 * The time axis of a long recording in Chromium: how soon it is drawn from the cache, and how evenly it moves under the hand.
 * The recording is generated with a seed, written as text into a temporary build and cached once, as a first opening does.
 * Run: node dist/bench/page.js [frames]
 */
import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Browser, chromium, type Page } from 'playwright-core';
import { openCapture } from '../src/build/cache/openCapture.ts';
import { writeCaptureFile } from '../src/build/captureFile.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { startServer } from '../src/server/start.ts';
import { xorshift32 } from './xorshift.ts';

const SEED = 20261125;
const NAME = 'long drive.csv';
const OPENINGS = 5;
const CHROMIUM = '/usr/bin/chromium';
/** A file looked at sooner after its last change is hashed anew each time, because it may still change. */
const SETTLED_MS = 4000;

const [task, ...rest] = process.argv.slice(2);
if (task === 'serve') await serve(rest[0] as string);
else await measure(Number(task ?? 10_000_000));

async function measure(frames: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'bywright-page-'));
  const browser = await chromium.launch({
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
  try {
    await prepare(folder, frames);
    const opened: number[] = [];
    const bare: number[] = [];
    const used: number[] = [];
    await bareFrames(browser);
    for (let k = 1; k <= OPENINGS; k++) {
      const server = await started(folder);
      try {
        bare.push(await bareSheet(browser, server.url));
        const before = await server.used();
        const { page, seconds } = await open(browser, server.url);
        opened.push(seconds);
        used.push((await server.used()) - before);
        if (k === OPENINGS) await moves(browser, page);
        await page.close();
      } finally {
        await server.stop();
      }
    }
    console.log(
      `from opening the sheet until the whole recording is drawn, server started afresh each time: ${opened.map((s) => s.toFixed(2)).join(', ')} s (target ≤ 2); the sheet of the build, without any recording, just before: ${bare.map((s) => s.toFixed(2)).join(', ')} s; processor time of the server meanwhile: ${used.map((s) => s.toFixed(2)).join(', ')} s`,
    );
  } finally {
    await browser.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Files of the build, the recording, and its cache. */
async function prepare(folder: string, frames: number): Promise<void> {
  for (const [name, text] of Object.entries(buildFiles())) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), text);
  }
  mkdirSync(join(folder, 'captures'));
  const path = join(folder, 'captures', NAME);
  await writeCaptureFile(path, traffic(frames), 'text');
  await new Promise((resolve) => setTimeout(resolve, SETTLED_MS));
  const read = await openCapture(folder, NAME);
  const cached = await read.cached;
  const seconds = (read.capture.time[read.capture.count - 1] as number).toFixed(0);
  console.log(
    `seed ${SEED}, ${read.capture.count} frames of 8 bytes in ${seconds} s on 2 buses, 40 identifiers, ${(statSync(path).size / 1e6).toFixed(0)} MB of text; cache ${cached}; node ${process.version}`,
  );
}

interface Server {
  url: string;
  /** Processor time since the server was started, seconds. */
  used: () => Promise<number>;
  stop: () => Promise<void>;
}

/** The server in a process of its own, as `bywright open` is one. */
async function started(folder: string): Promise<Server> {
  const child = spawn(process.execPath, [fileURLToPath(import.meta.url), 'serve', folder], {
    stdio: ['ignore', 'pipe', 'inherit', 'ipc'],
  });
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout?.once('data', (data: Buffer) => resolve(data.toString().trim()));
    child.once('exit', () => reject(new Error('the server ended')));
  });
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  return {
    url,
    used: () =>
      new Promise((resolve) => {
        child.once('message', (seconds) => resolve(Number(seconds)));
        child.send('used');
      }),
    stop: async () => {
      child.kill();
      await ended;
    },
  };
}

async function serve(folder: string): Promise<void> {
  const { url } = await startServer(folder);
  process.on('message', () => {
    const { user, system } = process.cpuUsage();
    process.send?.((user + system) / 1e6);
  });
  console.log(url);
}

async function open(browser: Browser, url: string): Promise<{ page: Page; seconds: number }> {
  const page = await browser.newPage({ viewport: { width: 1366, height: 768 } });
  await page.goto(`${url}#/captures/${encodeURIComponent(NAME)}`);
  const drawn = await page.waitForFunction(
    () => {
      const strip = document.querySelector<HTMLCanvasElement>('canvas.strip');
      if (!strip || strip.width < 10 || strip.height < 10) return 0;
      const data = strip.getContext('2d')?.getImageData(0, 0, strip.width, strip.height).data;
      return data?.some((value) => value !== 0) ? performance.now() : 0;
    },
    null,
    { polling: 'raf' },
  );
  return { page, seconds: ((await drawn.jsonValue()) as number) / 1000 };
}

/** What the same browser takes for a sheet without a recording, seconds. */
async function bareSheet(browser: Browser, url: string): Promise<number> {
  const page = await browser.newPage({ viewport: { width: 1366, height: 768 } });
  await page.goto(`${url}#/build`);
  const drawn = await page.waitForFunction(
    () => (document.querySelector('figure svg') ? performance.now() : 0),
    null,
    { polling: 'raf' },
  );
  const seconds = ((await drawn.jsonValue()) as number) / 1000;
  await page.close();
  return seconds;
}

/** How evenly an empty page is drawn on this machine at this hour. */
async function bareFrames(browser: Browser): Promise<void> {
  const page = await browser.newPage();
  await record(page);
  await page.waitForTimeout(5000);
  tell(`an empty page, load of the machine ${loadavg()[0]?.toFixed(1)}`, await recorded(page));
  await page.close();
}

/** Zoom to single frames and back, drag, and keys, with two signals drawn; times as the page itself sees them. */
async function moves(browser: Browser, page: Page): Promise<void> {
  const select = page.getByLabel('Draw a signal');
  for (const name of ['slow', 'noisy']) {
    const option = page.locator('.lane-choice option', { hasText: name }).first();
    await option.waitFor({ state: 'attached' });
    await select.selectOption((await option.getAttribute('value')) as string);
  }
  await page.locator('.lane-choice li').nth(1).waitFor();
  await page.waitForTimeout(1500);
  const box = await page.locator('canvas.stretch').boundingBox();
  if (box === null) throw new Error('the time axis is not drawn');
  const [x, y] = [box.x + box.width * 0.4, box.y + box.height * 0.6];
  await page.mouse.move(x, y);
  const all: Times = { gaps: [], inputs: [] };
  await browser.startTracing(page, { categories: ['toplevel', 'devtools.timeline'] });
  const phase = async (words: string, work: () => Promise<void>) => {
    await record(page);
    await work();
    const times = await recorded(page);
    all.gaps.push(...times.gaps);
    all.inputs.push(...times.inputs);
    tell(words, times);
  };
  const wheel = async (by: number, times: number) => {
    await page.mouse.move(x, y);
    for (let k = 0; k < times; k++) {
      await page.mouse.wheel(0, by);
      await page.waitForTimeout(12);
    }
  };
  const drag = async () => {
    for (let round = 0; round < 3; round++) {
      await page.mouse.move(x, y);
      await page.mouse.down();
      for (let k = 1; k <= 40; k++) await page.mouse.move(x - k * 6, y);
      await page.mouse.up();
    }
  };
  await phase('drag, whole recording nearly', async () => {
    await wheel(-100, 3);
    await drag();
  });
  await phase('wheel, closer until single frames', () => wheel(-100, 60));
  await page.waitForTimeout(500);
  const seen = await page
    .locator('[data-from]')
    .evaluate((e) => Number(e.getAttribute('data-to')) - Number(e.getAttribute('data-from')));
  await phase('drag among single frames', drag);
  await phase('keys: arrows, + and -', async () => {
    await page.getByRole('application').focus();
    for (const key of ['ArrowRight', '-', 'ArrowLeft', '-', 'ArrowRight', '+', '+', 'ArrowRight'])
      for (let k = 0; k < 8; k++) await page.keyboard.press(key);
  });
  await phase('wheel, further until all of it', () => wheel(100, 60));
  console.log(`closest look ${(seen * 1000).toFixed(1)} ms wide`);
  tell('all of them', all);
  const pieces = workOf(
    JSON.parse((await browser.stopTracing()).toString()) as { traceEvents: TraceEvent[] },
  );
  console.log(
    `the page's own work, processor time of each piece of its main thread, whatever else the machine does: ${distribution(pieces)}`,
  );
}

/** Of the trace that Chromium writes; times in microseconds, `tdur` that of the processor. */
interface TraceEvent {
  name: string;
  pid: number;
  tid: number;
  tdur?: number;
  args?: { name?: string };
}

/** Milliseconds of each piece of work of the main threads of pages that took half a millisecond or more. */
function workOf({ traceEvents }: { traceEvents: TraceEvent[] }): number[] {
  const main = new Set(
    traceEvents
      .filter(({ name, args }) => name === 'thread_name' && args?.name === 'CrRendererMain')
      .map(({ pid, tid }) => `${pid} ${tid}`),
  );
  return traceEvents
    .filter(({ name, pid, tid }) => /RunTask$/.test(name) && main.has(`${pid} ${tid}`))
    .map(({ tdur = 0 }) => tdur / 1000)
    .filter((ms) => ms >= 0.5);
}

interface Times {
  /** Between two frames of the screen, milliseconds. */
  gaps: number[];
  /** From an input to the end of the drawing that shows it, milliseconds. */
  inputs: number[];
}

function tell(words: string, { gaps, inputs }: Times): void {
  console.log(
    `${words}: between frames ${distribution(gaps)}; input to drawn ${distribution(inputs)} (target: every one < 50)`,
  );
}

function distribution(values: number[]): string {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (share: number) =>
    (sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0).toFixed(1);
  return `median ${at(0.5)}, 95 % ${at(0.95)}, worst ${at(1)} ms of ${sorted.length}`;
}

async function record(page: Page): Promise<void> {
  await page.evaluate(() => {
    const times: Times & { on: boolean } = { gaps: [], inputs: [], on: true };
    (window as unknown as { times: typeof times }).times = times;
    let last = 0;
    const tick = () => {
      const now = performance.now();
      if (last > 0) times.gaps.push(now - last);
      last = now;
      if (times.on) requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
    const heard = (event: Event) => {
      // Asked for after the page's own request, so that it runs behind the page's drawing.
      if (times.on) requestAnimationFrame(() => times.inputs.push(performance.now() - event.timeStamp));
    };
    for (const type of ['wheel', 'keydown', 'pointermove']) addEventListener(type, heard, { passive: true });
  });
}

function recorded(page: Page): Promise<Times> {
  return page.evaluate(() => {
    const { times } = window as unknown as { times: Times & { on: boolean } };
    times.on = false;
    return { gaps: times.gaps, inputs: times.inputs };
  });
}

/** As `bench/store.ts` has it, on two buses. Invented; drawn from xorshift32 (Marsaglia 2003). */
function traffic(count: number): Capture {
  const builder = new CaptureBuilder(count);
  const random = xorshift32(SEED);
  const data = new Uint8Array(8);
  const counters = new Uint8Array(40);
  const slow = new Float64Array(40);
  let us = 0;
  for (let i = 0; i < count; i++) {
    us += 200 + (random() % 100);
    const k = random() % 40;
    slow[k] = (slow[k] as number) + (random() % 5) - 2;
    data[0] = counters[k] = ((counters[k] as number) + 1) & 15;
    data[1] = slow[k] as number;
    data[2] = (slow[k] as number) >> 8;
    data[3] = random() & 0x1f;
    data[4] = k;
    data[7] = random();
    builder.add(us / 1e6, k % 2, 0x100 + k * 16, 0, 8, data, 0, 8);
  }
  return builder.finish();
}

function buildFiles(): Record<string, string> {
  return {
    'build.yaml': `form: build/1
title: Long drive, generated
host: { name: Wagtail, mass_kg: 2150, yaw_inertia_kgm2: 4300, wheelbase_m: 3.2, cg_to_front_m: 1.45, front_stiffness_n_per_rad: 110000, rear_stiffness_n_per_rad: 120000, steering_ratio: 18.5, width_m: 1.9 }
`,
    'buses.yaml': `form: buses/1
buses:
  - { name: chassis, number: 0, bit_rate_bps: 500000 }
  - { name: control, number: 1, bit_rate_bps: 500000 }
`,
    'units.yaml': `form: units/1
units:
  - { name: Plover, role: donor, part: column steering unit, buses: [chassis, control] }
`,
    'dictionary/chassis.yaml': `form: dictionary/1
bus: chassis
messages:
  - name: first
    id: 0x100
    length: 8
    signals:
      - { name: slow, start: 8, length: 16, byte_order: little, signed: true }
      - { name: noisy, start: 24, length: 5, byte_order: little }
`,
    'cues/long drive.yaml': `form: cues/1
capture: ${NAME}
cues:
${Array.from({ length: 40 }, (_, k) => `  - { name: cue ${k % 5}, start_s: ${k * 60 + 5}, end_s: ${k * 60 + 35} }\n`).join('')}`,
  };
}
