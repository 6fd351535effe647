import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import {
  CAPTURE,
  type OpenOptions,
  startWorkbench,
  type TestWorkbench,
  withoutChromium,
} from './workbench.ts';

const capture = encodeURIComponent(CAPTURE);
const MESSAGE = `#/messages/${capture}/bus-0/1F0`;

describe.skipIf(withoutChromium)('the Messages sheets', () => {
  let workbench: TestWorkbench;
  const opened: { page: Page; trouble: string[] }[] = [];

  beforeAll(async () => {
    workbench = await startWorkbench();
  });

  afterAll(() => workbench?.close());

  afterEach(async () => {
    for (const { page, trouble } of opened.splice(0)) {
      await page.close();
      expect(trouble).toEqual([]);
    }
  });

  const open = async (address: string, options?: OpenOptions) => {
    const sheet = await workbench.open(address, options);
    opened.push(sheet);
    return sheet.page;
  };

  const message = (id: number) =>
    parse(workbench.file('dictionary/chassis.yaml')).messages.find((m: { id: number }) => m.id === id);

  const toFields = async (page: Page) => {
    await page.locator('button.mark[aria-pressed="true"]').focus();
  };

  const said = (page: Page, words: string) => page.locator('.said').filter({ hasText: words }).waitFor();

  test('the list is filtered and put in order by keyboard, and a message opened from it', async () => {
    const page = await open(`#/messages/${capture}`);
    await page.getByText('4 messages', { exact: true }).waitFor();
    await page.keyboard.press('s');
    expect(await page.getByLabel('Order by').inputValue()).toBe('period');
    await page.keyboard.press('/');
    await page.keyboard.type('COUNTER check');
    await page.getByText('1 of 4 messages').waitFor();
    await page.keyboard.press('ArrowDown');
    await page.locator('.messages tr.chosen').filter({ hasText: '1F0' }).waitFor();
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { level: 1, name: /Message 1F0 of bus chassis/ }).waitFor();
    await page.goBack();
    await page.getByText('1 of 4 messages').waitFor();
    await page.keyboard.press('/');
    await page.keyboard.press('Escape');
    await page.getByText('4 messages', { exact: true }).waitFor();
  });

  test('a finding is accepted, put right and undone by keyboard alone', async () => {
    const page = await open(MESSAGE);
    await toFields(page);
    await page.keyboard.press('a');
    await page.keyboard.type('rack travel');
    await page.keyboard.press('Tab');
    await page.keyboard.type('mm');
    await page.keyboard.press('Enter');
    await said(page, 'is in dictionary/chassis.yaml');
    expect(message(0x1f0).signals[0]).toMatchObject({ name: 'rack travel', unit: 'mm' });
    await page.getByRole('row', { name: /rack travel/ }).waitFor();
    await page.keyboard.press('e');
    await page.getByLabel('Not believed above').fill('180');
    await page.getByLabel('Scale').fill('0.05');
    await page.keyboard.press('Enter');
    await said(page, 'is put right');
    expect(message(0x1f0).signals[0]).toMatchObject({ name: 'rack travel', scale: 0.05, max: 180 });
    await page
      .getByRole('row', { name: /rack travel/ })
      .getByText('× 0.05 mm')
      .waitFor();
    await page.keyboard.press('u');
    await said(page, 'undone');
    expect(message(0x1f0).signals[0].max).toBeUndefined();
    await page.keyboard.press('u');
    await page.getByRole('row', { name: /rack travel/ }).waitFor({ state: 'detached' });
    expect(message(0x1f0)).toBeUndefined();
  });

  test('a rejected finding is struck, stays so after reloading, and can be taken back', async () => {
    const page = await open(MESSAGE);
    await toFields(page);
    await page.keyboard.press('r');
    await page.keyboard.type('belongs to the next field');
    await page.keyboard.press('Enter');
    await said(page, 'is kept as rejected');
    await page.reload();
    const struck = page.locator('.fields tr.struck');
    await struck.waitFor();
    expect(await struck.locator('.state').textContent()).toBe('rejected');
    expect(
      await struck
        .locator('td')
        .nth(1)
        .evaluate((cell) => getComputedStyle(cell).textDecorationLine),
    ).toBe('line-through');
    await page.getByText('proposed by no capture again').waitFor();
    await struck.click();
    await toFields(page);
    await page.keyboard.press('b');
    await said(page, 'taken back');
    await struck.waitFor({ state: 'detached' });
    expect(message(0x1f0).signals).toEqual([]);
  });

  test('another cut is chosen with its figures beside it, and told in the evidence', async () => {
    const page = await open(MESSAGE);
    await toFields(page);
    const cuts = page.locator('.cuts tbody tr');
    if ((await cuts.count()) === 0) await page.keyboard.press('c');
    await cuts.first().waitFor();
    expect(await cuts.first().locator('th').textContent()).toBe('as found');
    await page.getByRole('button', { name: /^Take the cut (signed|without sign)/ }).click();
    await page.getByText('another than found').waitFor();
    await page.getByLabel('Name of the signal').fill('travel');
    await page.keyboard.press('Enter');
    await said(page, 'is in dictionary/chassis.yaml');
    const kept = message(0x1f0).signals.find((s: { name: string }) => s.name === 'travel');
    expect(kept.evidence.at(-1).text).toContain('cut by hand');
    await page.getByRole('button', { name: 'Undo the last change' }).click();
    await said(page, 'undone');
  });

  test('a capture that contradicts an accepted entry is told on the list and beside the field', async () => {
    const page = await open(`#/messages/${capture}/bus-0/0E5`);
    await toFields(page);
    await page.locator('.fields tbody tr').filter({ hasText: 'angle' }).first().click();
    await toFields(page);
    await page.keyboard.press('e');
    await page.getByLabel('Not believed above').fill('50');
    await page.keyboard.press('Enter');
    await said(page, 'is put right');
    await page.locator('.fields tr.chosen').getByText('contradicted').waitFor();
    const words = /accepted as −720 … 50 deg; in turns on the stand\.pcapng .* values lie outside/i;
    await page.locator('.margin').getByText(words).waitFor();
    await page.getByRole('link', { name: 'Messages' }).first().click();
    await page.locator('.contradicted').getByText(words).waitFor();
    await page.getByRole('row', { name: /0E5/ }).getByText('contradicted').waitFor();
    await page.locator('.contradicted').getByRole('link', { name: '0E5 steering_state, angle' }).click();
    await page.getByRole('heading', { level: 1, name: /Message 0E5/ }).waitFor();
    await page.locator('.fields tr.chosen').getByText('contradicted').waitFor();
    await page.getByRole('button', { name: 'Undo the last change' }).click();
    await page.locator('.fields').getByText('contradicted').waitFor({ state: 'detached' });
  });

  test('a field leads to the time axis of its capture, with its lane drawn', async () => {
    const page = await open(`#/messages/${capture}/bus-0/0E5`);
    await toFields(page);
    await page.locator('.fields tbody tr').filter({ hasText: 'angle' }).first().click();
    await toFields(page);
    await page.keyboard.press('t');
    await page.getByRole('heading', { level: 1, name: `Capture ${CAPTURE}` }).waitFor();
    await page.getByRole('button', { name: 'Take angle away' }).waitFor();
    await page.reload();
    await page.getByRole('button', { name: 'Take angle away' }).waitFor();
  });

  test('relations are walked from signal to signal by keyboard, and stand in a table', async () => {
    const page = await open(`#/messages/${capture}/relations/bus-0/0E5/0`);
    const figure = page.locator('svg.figure-relations');
    await figure.waitFor();
    expect(await figure.getAttribute('aria-label')).toMatch(/^angle: .*wish_angle \(copy/);
    await figure.locator('[data-signal][tabindex="0"]').focus();
    await page.keyboard.press('ArrowRight');
    const reached = () => page.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? '');
    if (!(await reached()).startsWith('wish_angle')) await page.keyboard.press('ArrowLeft');
    if (!(await reached()).startsWith('wish_angle')) await page.keyboard.press('ArrowLeft');
    expect(await reached()).toMatch(/^wish_angle, .*: copy/);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Ties of wish_angle' }).waitFor();
    expect(await reached()).toMatch(/^wish_angle, .*in the middle$/);
    const row = page
      .locator('.relations')
      .first()
      .getByRole('row', { name: /angle.*copy/ });
    expect(await row.count()).toBeGreaterThan(0);
    await page.keyboard.press('Backspace');
    await page.getByRole('heading', { name: 'Ties of angle' }).waitFor();
    await page.keyboard.press('m');
    await page.getByRole('heading', { level: 1, name: /Message 0E5/ }).waitFor();
  });

  test('a capture without cues says where to note them', async () => {
    const page = await open(`#/messages/${capture}/cues`);
    await page.getByText('No cue sheet speaks of this recording').waitFor();
  });

  test('findings are not worked out again when the page is opened anew', async () => {
    const page = await open(`#/messages/${capture}`);
    await page.getByText('4 messages', { exact: true }).waitFor();
    const { jobs } = await page.evaluate(() => fetch('/api/jobs').then((reply) => reply.json()));
    expect(jobs.filter((job: { kind: string }) => job.kind === 'findings')).toHaveLength(1);
  });

  test('no sheet of messages is wider than a small laptop or a telephone', async () => {
    for (const [width, address] of [
      [1024, MESSAGE],
      [400, `#/messages/${capture}`],
      [400, MESSAGE],
      [400, `#/messages/${capture}/relations`],
    ] as const) {
      const page = await open(address, { width });
      await page.locator('main svg').first().waitFor();
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(width);
    }
  });
});
