import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { saveProof } from '../../src/build/evidence.ts';
import { GUARD } from '../build/folder.ts';
import {
  CAPTURE,
  type OpenOptions,
  startWorkbench,
  type TestWorkbench,
  withoutChromium,
} from './workbench.ts';

const capture = encodeURIComponent(CAPTURE);

describe.skipIf(withoutChromium)('the sheets of the workbench', () => {
  let workbench: TestWorkbench;
  const opened: { page: Page; trouble: string[] }[] = [];

  beforeAll(async () => {
    workbench = await startWorkbench();
  });

  afterAll(() => workbench?.close());

  afterEach(async () => {
    for (const { page } of opened.splice(0)) await page.close();
  });

  const open = async (address: string, options?: OpenOptions) => {
    const sheet = await workbench.open(address, options);
    opened.push(sheet);
    return sheet;
  };

  const headOf = async (page: Page, head: string | RegExp) => {
    await page.getByRole('heading', { level: 1, name: head }).waitFor();
  };

  /** Waits for a figure and gives its accessible name. */
  const figureName = async (page: Page, kind: string) => {
    const figure = page.locator(`svg.figure-${kind}`).first();
    await figure.waitFor();
    return (await figure.getAttribute('aria-label')) ?? '';
  };

  test('the Build sheet draws units and buses and lists the figures of the host', async () => {
    const { page, trouble } = await open('');
    await headOf(page, 'Sheet 1: Wagtail, by-wire conversion');
    expect(await figureName(page, 'build')).toContain('bus control with gateway, controller');
    expect(await page.getByRole('row', { name: /^mass, as driven/ }).textContent()).toContain('2,150');
    expect(trouble).toEqual([]);
  });

  test('the contents lead from sheet to sheet by keyboard', async () => {
    const { page, trouble } = await open('');
    await headOf(page, /^Sheet 1/);
    await page
      .getByRole('link', { name: /^Captures/ })
      .first()
      .press('Enter');
    await headOf(page, 'Sheet 2: Captures');
    expect(await page.evaluate(() => document.activeElement?.tagName)).toBe('H1');
    await page.getByRole('link', { name: CAPTURE }).press('Enter');
    await headOf(page, `Sheet 2.1: Capture ${CAPTURE}`);
    expect(await page.title()).toBe(`2.1 ${CAPTURE} · Wagtail, by-wire conversion`);
    expect(trouble).toEqual([]);
  });

  test('the Captures sheet shows a recording while it runs', async () => {
    const place = join(workbench.folder, '.cache', 'listening');
    mkdirSync(place, { recursive: true });
    const bus = { bus: 0, framesPerSecond: 1234, bitsPerSecond: 125_000, errorFrames: 0, ids: 42 };
    const status = { frames: 12_345, elapsedS: 61, quietS: 0, buses: [bus], openCues: ['brake pressed'] };
    writeFileSync(join(place, 'run.pcapng.json'), JSON.stringify({ name: 'run.pcapng', ...status }));
    const { page, trouble } = await open('#/captures');
    const line = page.getByRole('status').filter({ hasText: 'Recording now' });
    await line.waitFor();
    expect(await line.textContent()).toBe(
      'Recording now: run.pcapng, 12,345 frames in 61.0 s; chassis 1,234 frames/s, load 25.0 %; on: brake pressed',
    );
    rmSync(join(place, 'run.pcapng.json'));
    await line.waitFor({ state: 'detached' });
    expect(trouble).toEqual([]);
  });

  test('the sheet of a capture has its census and the load of each bus', async () => {
    const { page, trouble } = await open(`#/captures/${capture}`);
    expect(await figureName(page, 'bus-load')).toMatch(/chassis mean [\d.]+ %.*control mean [\d.]+ %/);
    const row = page.getByRole('row', { name: /^1F0/ });
    expect(await row.locator('td').allTextContents()).toEqual([
      '–',
      '1,500',
      '8',
      '',
      '20.00',
      expect.any(String),
    ]);
    expect(trouble).toEqual([]);
  });

  test('findings of a capture are worked out and each message has a fingerprint', async () => {
    const { page, trouble } = await open(`#/messages/${capture}`);
    await page.getByRole('link', { name: '1F0' }).waitFor();
    expect(await page.locator('svg.figure-payload-fingerprint').count()).toBe(4);
    expect(await page.getByRole('row', { name: /1F0/ }).textContent()).toContain('counter');
    expect(trouble).toEqual([]);
  });

  test('a finding that is accepted by keyboard stands in the dictionary with its evidence', async () => {
    const { page, trouble } = await open(`#/messages/${capture}/bus-0/1F0`);
    await headOf(page, /Message 1F0 of bus chassis/);
    expect(await figureName(page, 'payload-strip')).toContain('Payload strip of 1F0: 64 bits');
    expect(await figureName(page, 'series')).toMatch(/over 2\d.* seconds/);
    await page.locator('button.mark[aria-pressed="true"]').focus();
    await page.keyboard.press('a');
    await page.getByLabel('Name of the signal').fill('rack_travel');
    await page.getByLabel('Unit').fill('mm');
    await page.getByLabel('Scale').fill('0.05');
    await page.getByLabel(/^Name of the message/).fill('rack');
    await page.keyboard.press('Enter');
    await page.getByText('is in dictionary/chassis.yaml').waitFor();
    await headOf(page, /Message 1F0, rack, of bus chassis/);
    const row = page.getByRole('row', { name: /rack_travel/ });
    expect(await row.textContent()).toMatch(/× 0.05 mm.*accepted/);
    const rack = parse(workbench.file('dictionary/chassis.yaml')).messages.find(
      (m: { name: string }) => m.name === 'rack',
    );
    expect(rack).toMatchObject({
      id: 0x1f0,
      signals: [{ name: 'rack_travel', unit: 'mm', scale: 0.05 }],
    });
    expect(rack.signals[0].evidence[0].capture).toBe(CAPTURE);
    expect(await page.evaluate(() => document.activeElement?.className)).toBe('mark');
    expect(trouble).toEqual([]);
  });

  test('a finding that is rejected is kept as rejected and loses its bracket', async () => {
    const { page, trouble } = await open(`#/messages/${capture}/bus-0/0E5`);
    await headOf(page, /Message 0E5/);
    const row = page.locator('.fields tbody tr').filter({ hasText: 'open' }).first();
    const mark = (await row.locator('button').textContent()) ?? '';
    await row.click();
    await page.getByRole('button', { name: 'Reject …' }).click();
    await page.getByLabel('Reason').fill('belongs to the field before it');
    await page.getByRole('button', { name: `Reject ${mark}` }).click();
    await page.getByText('is kept as rejected').waitFor();
    await page.locator('.fields tr.chosen .state.crossed').waitFor();
    expect(await figureName(page, 'payload-strip')).not.toMatch(new RegExp(`[:;] ${mark} `));
    expect(workbench.file('dictionary/chassis.yaml')).toContain('rejected');
    expect(trouble).toEqual([]);
  });

  test('the bits of a strip can be drawn in either order', async () => {
    const { page } = await open(`#/messages/${capture}/bus-0/1F0`);
    const ends = () =>
      page
        .locator('svg.figure-payload-strip text')
        .allTextContents()
        .then((all) => all.slice(all.indexOf('byte 0') + 1, all.indexOf('byte 1')));
    await page.getByRole('button', { name: 'Draw the lowest bit first' }).click();
    await page.getByRole('button', { name: 'Draw the highest bit first' }).waitFor();
    expect(await ends()).toEqual(['0', '7']);
    await page.getByRole('button', { name: 'Draw the highest bit first' }).click();
    await page.getByRole('button', { name: 'Draw the lowest bit first' }).waitFor();
    expect(await ends()).toEqual(['7', '0']);
  });

  test('the Guard sheet draws both limits under the budget, and a proof can be started and stopped', async () => {
    const { page, trouble } = await open('#/guard');
    expect(await figureName(page, 'limit-level')).toContain('Level limit over speed');
    expect(await figureName(page, 'limit-slew')).toContain('Slew limit over speed');
    await page.getByText('Nothing is proved yet.').waitFor();
    await page.getByRole('button', { name: 'Prove', exact: true }).click();
    await page.getByRole('progressbar', { name: 'Proving' }).waitFor();
    await page.getByRole('button', { name: 'Stop' }).click();
    await page.getByText('The proof was stopped on request').waitFor();
    expect(trouble).toEqual([]);
  });

  test('an obligation that fails stands first, with the play-back that breaks it', async () => {
    const steps = Array.from({ length: 60 }, (_, step) => step);
    const obligation = {
      sentence: 'The order is zero after a stop.',
      seconds: 0.2,
      hash: '',
      counterexample: null,
    };
    await saveProof(
      workbench.folder,
      {
        form: 'proof/1',
        program: 'guard',
        hash: 'of another program',
        at: '2026-01-01T00:00:00.000Z',
        obligations: [
          { ...obligation, name: 'level', status: 'proved', note: '' },
          { ...obligation, name: 'stop', status: 'failed', note: 'broken 58 steps after switching on' },
        ],
      },
      [
        {
          form: 'counterexample/1',
          obligation: 'stop',
          sentence: obligation.sentence,
          stepMs: 10,
          brokenAtStep: 57,
          columns: [
            { name: 'stop_input', kind: 'input', note: '1 = stop', values: steps.map((k) => Number(k > 55)) },
            { name: 'order_angle', kind: 'output', note: '°', values: steps.map((k) => k / 10) },
            { name: 'speed', kind: 'input', note: 'm/s', values: steps.map(() => 8) },
          ],
        },
      ],
    );
    const { page, trouble } = await open('#/guard');
    await page.getByRole('heading', { name: 'How “stop” fails' }).waitFor();
    expect(await figureName(page, 'trace')).toBe(
      'Counterexample to stop: broken at step 57 of 10 ms, where stop_input 1, order_angle 5.7',
    );
    const rows = page.locator('.obligations tbody tr:not(.group)');
    expect(await rows.locator('th').allTextContents()).toEqual(['stop', 'level']);
    await page.getByText('What stands still meanwhile').waitFor();
    await page.getByText('The program changed after this proof').waitFor();
    await page.getByRole('button', { name: 'See Fig. 4-3' }).click();
    expect(await page.locator('.title-block').textContent()).toContain('1 / 1, out of date');
    expect(trouble).toEqual([]);
  });

  test('the Dossier sheet holds the dossier in a frame', async () => {
    const { page, trouble } = await open('#/dossier');
    await page.frameLocator('iframe[title="Dossier"]').getByRole('heading', { level: 1 }).first().waitFor();
    await page.getByRole('button', { name: 'Print' }).waitFor();
    expect(trouble).toEqual([]);
  });

  test('a capture that is not there is told in one sentence', async () => {
    const { page } = await open('#/captures/nothing.pcap');
    const alert = page.getByRole('alert').first();
    await alert.waitFor();
    expect(await alert.textContent()).toMatch(/^[A-Z].*captures\/.*$/);
  });

  test('an address that names no sheet says so', async () => {
    const { page, trouble } = await open('#/gauges');
    await headOf(page, /No such sheet/);
    expect(trouble).toEqual([]);
  });

  test('a mistake in a file appears by itself, with file, line and remedy, and goes when it is mended', async () => {
    const { page, trouble } = await open('');
    await headOf(page, /^Sheet 1/);
    const guard = join(workbench.folder, 'guard.yaml');
    writeFileSync(guard, GUARD.replace('release_ms: 600', 'release_ms: soon'));
    await page.getByRole('heading', { name: '1 problem in the files' }).waitFor();
    const row = page.locator('.problems tbody tr');
    expect(await row.locator('td').allTextContents()).toEqual([
      'guard.yaml',
      expect.stringMatching(/^\d+$/),
      'handover.release_ms',
      expect.stringContaining('soon'),
      expect.stringContaining('number'),
    ]);
    writeFileSync(guard, GUARD);
    await page.getByRole('heading', { name: '1 problem in the files' }).waitFor({ state: 'detached' });
    expect(trouble).toEqual([]);
  });

  test.each(['light', 'dark'] as const)(
    'figures and text take the tones of a %s page',
    async (colorScheme) => {
      const { page } = await open('', { colorScheme });
      await figureName(page, 'build');
      const [paper, ink, drawn] = await page.evaluate(() => {
        const style = (selector: string) => getComputedStyle(document.querySelector(selector) as Element);
        return [style('body').backgroundColor, style('body').color, style('svg.figure-build text').fill];
      });
      const light = (rgb: string) => Number(/\d+/.exec(rgb)?.[0]) > 128;
      expect([light(paper as string), light(ink as string)]).toEqual(
        colorScheme === 'light' ? [true, false] : [false, true],
      );
      expect(drawn).toBe(ink);
    },
  );

  test('no sheet is wider than a small laptop or a telephone', async () => {
    for (const [width, address] of [
      [1024, `#/messages/${capture}`],
      [1024, '#/guard'],
      [400, ''],
    ] as const) {
      const { page } = await open(address, { width });
      await page.locator('main svg').first().waitFor();
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(width);
    }
  });

  test('the scripts of the pages are at most 150 KiB compressed', () => {
    expect(workbench.scriptBytes()).toBeGreaterThan(10 * 1024);
    expect(workbench.scriptBytes()).toBeLessThanOrEqual(150 * 1024);
  });
});
