import { existsSync } from 'node:fs';
import { parseHTML } from 'linkedom';
import { type Browser, chromium } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { dossierHtml, shownAndNotShown } from '../../src/dossier/index.ts';
import { placedParts } from './pdf.ts';
import { sampleInput } from './sample.ts';

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find((path) => existsSync(path));
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

describe('printed', () => {
  let browser: Browser | null = null;
  beforeAll(async () => {
    if (CHROMIUM) browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
  });
  afterAll(async () => browser?.close());

  for (const format of ['A4', 'Letter'] as const) {
    test(`on ${format} no row and no figure is cut by a page, and nothing is loaded from anywhere`, async (context) => {
      if (browser === null) {
        if (process.env['CI'] === 'true') throw new Error('Chromium is missing: apt-get install chromium');
        return context.skip('skipped: apt-get install chromium');
      }
      const page = await browser.newPage();
      const requests: string[] = [];
      const complaints: string[] = [];
      page.on('request', (request) => requests.push(request.url()));
      page.on('console', (message) => complaints.push(message.text()));
      const html = dossierHtml(await sampleInput());
      await page.route('**/*', (route) =>
        route.request().url() === 'http://dossier.invalid/'
          ? route.fulfill({ contentType: 'text/html', body: html })
          : route.abort(),
      );
      await page.goto('http://dossier.invalid/');
      const pdf = await page.pdf({ format, tagged: true });
      await page.close();
      expect(requests).toEqual(['http://dossier.invalid/']);
      expect(complaints).toEqual([]);

      const { pages, parts } = placedParts(pdf);
      const rows = parts.filter((part) => part.kind === 'row');
      const figures = parts.filter((part) => part.kind === 'figure');
      expect(pages).toBeGreaterThan(10);
      expect(rows.length).toBeGreaterThan(100);
      // The drawing of buses and units, level and slew over speed, one counterexample: each with the picture inside.
      expect(figures.filter((f) => f.pages.length > 0)).toHaveLength(8);
      expect([...rows, ...figures].filter((part) => part.pages.length > 1)).toEqual([]);
      expect(parts.some((part) => part.kind === 'heading row' && part.pages.length > 1)).toBe(true);
    });
  }
});

test('the document holds no script and no address of anything to load', async () => {
  const html = dossierHtml(await sampleInput());
  expect(html).not.toMatch(/<script|<link|<img|@import|url\(/i);
  expect(
    [...html.matchAll(/(?:src|href)="([^"]*)"/g)].map((m) => m[1]).filter((a) => !a?.startsWith('#')),
  ).toEqual([]);
});

test('text from the build cannot become markup or style', async () => {
  const nasty = `</title></style><script>alert(1)</script>" ' & \u0000`;
  const html = dossierHtml(
    await sampleInput({ title: nasty, note: nasty, problems: [nasty], version: nasty, revision: nasty }),
  );
  const { document } = parseHTML(html);
  expect(document.querySelectorAll('script')).toHaveLength(0);
  expect(document.querySelectorAll('style')).toHaveLength(1);
  expect(document.querySelector('h1')?.textContent).toContain('<script>alert(1)</script>');
  expect(html.match(/<style>[\s\S]*?<\/style>/)?.[0]).toContain('counter(pages)');
  expect(html).toContain('&lt;script&gt;alert(1)');
});

test('a half-done build prints, and says that nothing bounds the controller', async () => {
  const html = dossierHtml(
    await sampleInput({
      dictionaries: [],
      bridge: null,
      guard: null,
      budget: null,
      proof: null,
      counterexamples: [],
      files: [],
      problems: [],
      note: null,
    }),
  );
  expect(html).toContain('The build has no guard: nothing bounds the controller.');
  expect(html).toContain('Nothing was proved yet.');
  expect(html).not.toMatch(/undefined|NaN|\[object/);
});

describe('shown and not shown', () => {
  test('only what is proved of the guard of today counts as shown', async () => {
    const { shown, notShown } = shownAndNotShown(await sampleInput());
    expect(shown[0]).toContain('31 obligations');
    expect(notShown.slice(0, 3).join(' ')).toMatch(/limit_4.*limit_10.*limit_13/);
  });

  test('a proof of another program shows nothing', async () => {
    const input = await sampleInput();
    const stale = { ...input, proof: { ...input.proof!, stale: true } };
    const { shown, notShown } = shownAndNotShown(stale);
    expect(shown.join(' ')).not.toContain('obligation');
    expect(notShown[0]).toContain('the kept proof of 34 obligations is of another program');
    expect(dossierHtml(stale)).toContain('Prove again');
  });

  test('speeds at which the tables are over the budget are named', async () => {
    const input = await sampleInput();
    const [steering] = input.budget!.channels;
    const rows = steering!.rows.map((row) => (row.speedMps > 12.9 ? { ...row, level: 500 } : row));
    const budget = { channels: [{ ...steering!, rows }], missing: [] };
    const { notShown } = shownAndNotShown({ ...input, budget });
    expect(notShown.join('\n')).toContain(
      'At 3 of 29 computed speeds the guard’s tables for steering allow more than the budget: 47, 49, 50 km/h.',
    );
  });

  test('the speed at which the tables are most over the budget is printed, however many were computed', async () => {
    const input = await sampleInput();
    const [steering] = input.budget!.channels;
    const rows = Array.from({ length: 400 }, (_, i) => ({ ...steering!.rows[0]!, speedMps: i / 28 }));
    rows[211] = { ...rows[211]!, level: 9e4 };
    const budget = { channels: [{ ...steering!, rows }], missing: [] };
    expect(dossierHtml({ ...input, budget })).toContain('<span class="word failed">over</span>');
  });

  test('what no computation can show is on the list whatever the build is', async () => {
    const input = await sampleInput({ problems: [] });
    const all = { ...input, proof: { ...input.proof!, obligations: input.proof!.obligations.slice(0, 2) } };
    expect(shownAndNotShown(all).notShown.length).toBeGreaterThanOrEqual(5);
    expect(dossierHtml(all)).not.toMatch(/\bis safe\b|\bsafely\b/);
  });
});
