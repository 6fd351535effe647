import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { CAPTURE, startWorkbench, type TestWorkbench, withoutChromium } from './workbench.ts';

const ADDRESS = `#/captures/${encodeURIComponent(CAPTURE)}`;
const FILE = 'cues/by hand.yaml';
const SHEET = `# by hand
form: cues/1
capture: ${CAPTURE}
cues:
  - { name: wheel left, start_s: 3, end_s: 6, level: 30 } # slowly
`;

describe.skipIf(withoutChromium)('the time axis of a recording', () => {
  let workbench: TestWorkbench;
  let opened: { page: Page; trouble: string[] } | null = null;

  beforeAll(async () => {
    workbench = await startWorkbench();
  });
  afterAll(() => workbench?.close());
  beforeEach(() => {
    rmSync(join(workbench.folder, 'cues'), { recursive: true, force: true });
    mkdirSync(join(workbench.folder, 'cues'));
    writeFileSync(join(workbench.folder, FILE), SHEET);
  });
  afterEach(async () => {
    await opened?.page.close();
    opened = null;
  });

  const open = async () => {
    opened = await workbench.open(ADDRESS);
    const { page } = opened;
    const axis = page.getByRole('application', { name: 'Time axis of the recording' });
    await page
      .getByRole('img', { name: 'The whole recording, 30 s: chassis 6,000 frames, control 1,500 frames' })
      .waitFor();
    await page.getByRole('button', { name: 'Show wheel left at 3 s' }).waitFor();
    return { page, axis, trouble: opened.trouble };
  };

  /** The stretch that is seen, once the hand has rested. */
  const span = async (axis: Locator) => {
    // The page's own clock: this timer ends behind the one that tells the components, however busy the machine is.
    await axis.evaluate(
      () => new Promise((done) => setTimeout(() => requestAnimationFrame(() => setTimeout(done)), 250)),
    );
    const [from, to] = [await axis.getAttribute('data-from'), await axis.getAttribute('data-to')];
    return { from: Number(from), to: Number(to) };
  };

  const sheet = () => parse(readFileSync(join(workbench.folder, FILE), 'utf8')).cues;

  test('is drawn, and goes by keyboard from the whole down to single frames and back', async () => {
    const { page, axis, trouble } = await open();
    expect(await span(axis)).toEqual({ from: 0, to: 29.9903 });
    await page.getByText('More frames here than can be listed').waitFor();
    await axis.focus();
    await page.keyboard.press('Home');
    for (let k = 0; k < 9; k++) await page.keyboard.press('+');
    const close = await span(axis);
    expect(close.from).toBe(0);
    expect(close.to).toBeCloseTo(29.9903 / 2 ** 9, 6);
    const rows = page.locator('.frame-list tbody tr');
    await rows.first().waitFor();
    expect(await rows.count()).toBe(15);
    expect(await rows.nth(1).locator('td').allTextContents()).toEqual([
      '0.000300',
      '0.300',
      'chassis',
      '0E5',
      '8',
      'data',
      '00 00 00 00 00 00 00 00',
    ]);
    await page.keyboard.press('n');
    await page.keyboard.press('n');
    await page.getByRole('status').filter({ hasText: 'cursor at 0.0006' }).waitFor({ state: 'attached' });
    expect(await page.locator('.frame-list tr.chosen').textContent()).toContain('0.000600');
    await page.keyboard.press('End');
    expect((await span(axis)).to).toBeCloseTo(29.9903, 6);
    await page.keyboard.press('0');
    expect((await span(axis)).from).toBe(0);
    expect(trouble).toEqual([]);
  });

  test('moves with wheel and pointer, and never past its ends', async () => {
    const { page, axis, trouble } = await open();
    const box = (await axis.boundingBox()) as NonNullable<Awaited<ReturnType<Locator['boundingBox']>>>;
    const [x, y] = [box.x + box.width / 2, box.y + 100];
    await page.mouse.move(x, y);
    for (let k = 0; k < 6; k++) await page.mouse.wheel(0, -100);
    const near = await span(axis);
    expect(near.to - near.from).toBeLessThan(10);
    // What is under the pointer stays there.
    expect((near.from + near.to) / 2).toBeCloseTo(15, 1);
    await page.mouse.down();
    await page.mouse.move(x + box.width / 4, y, { steps: 5 });
    await page.mouse.up();
    const dragged = await span(axis);
    expect(near.from - dragged.from).toBeCloseTo((near.to - near.from) / 4, 1);
    for (let k = 0; k < 30; k++) await page.mouse.wheel(-400, 0);
    expect((await span(axis)).from).toBe(0);
    for (let k = 0; k < 20; k++) await page.mouse.wheel(0, 100);
    expect(await span(axis)).toEqual({ from: 0, to: 29.9903 });
    expect(trouble).toEqual([]);
  });

  test('draws a signal of the dictionary and a field by its place, and reads their values at the cursor', async () => {
    const { page, axis, trouble } = await open();
    const option = page.locator('.lane-choice option', { hasText: 'speed (wheel_speed 0C4' });
    await option.waitFor({ state: 'attached' });
    await page.getByLabel('Draw a signal').selectOption((await option.getAttribute('value')) as string);
    await page.getByRole('button', { name: 'Take speed away' }).waitFor();
    await page.getByRole('button', { name: /A field by its place/ }).click();
    const form = page.getByRole('form', { name: 'A field by its place' });
    await form.getByLabel('identifier').fill('1f0');
    await form.getByLabel('start bit').fill('24');
    await form.getByRole('button', { name: 'Draw it' }).click();
    await page.getByRole('button', { name: 'Take 8 bits from 24, little away' }).waitFor();
    await axis.focus();
    await page.keyboard.press('Home');
    for (let k = 0; k < 8; k++) await page.keyboard.press('+');
    // The first frame of each: 30 km/h, and the counter at nought.
    await page
      .getByRole('status')
      .filter({ hasText: /speed 30 km\/h/ })
      .waitFor({ state: 'attached' });
    for (let k = 0; k < 8; k++) await page.keyboard.press('n');
    await page
      .getByRole('status')
      .filter({ hasText: /8 bits from 24, little 1(;|$)/ })
      .waitFor({ state: 'attached' });
    await page.getByRole('button', { name: 'Take speed away' }).click();
    await page.getByRole('button', { name: 'Take speed away' }).waitFor({ state: 'detached' });
    expect(trouble).toEqual([]);
  });

  test('takes a cue that is marked by keys into the YAML file, and gives it up again', async () => {
    const { page, axis, trouble } = await open();
    await axis.focus();
    await page.keyboard.press('Home');
    await page.keyboard.press('[');
    for (let k = 0; k < 10; k++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press(']');
    const form = page.getByRole('form', { name: 'Add a cue' });
    await form.getByLabel('What was done').fill('brake pressed');
    await form.getByLabel('Level').fill('2.5');
    await page.keyboard.press('Enter');
    await page.getByText('Cue “brake pressed” is in cues/by hand.yaml.').waitFor();
    expect(sheet()[1]).toEqual({ name: 'brake pressed', start_s: 0, end_s: 2.99903, level: 2.5 });
    expect(workbench.file(FILE).startsWith(SHEET)).toBe(true);
    await page.getByRole('button', { name: 'Take back the last change' }).click();
    await page.getByText('The last change is taken back.').waitFor();
    expect(workbench.file(FILE)).toBe(SHEET);
    expect(trouble).toEqual([]);
  });

  test('moves an edge of a cue by hand; one drawn past its start is refused', async () => {
    const { page, axis } = await open();
    const box = (await axis.boundingBox()) as NonNullable<Awaited<ReturnType<Locator['boundingBox']>>>;
    const at = (seconds: number) => box.x + (seconds / 29.9903) * box.width;
    const drag = async (from: number, to: number) => {
      await page.mouse.move(at(from), box.y + 14);
      await page.mouse.down();
      await page.mouse.move(at(to), box.y + 14, { steps: 4 });
      await page.mouse.up();
    };
    await drag(6, 9);
    await page.getByText('Cue “wheel left” has its new edge.').waitFor();
    expect(sheet()[0].end_s).toBeCloseTo(9, 1);
    expect(workbench.file(FILE)).toContain('level: 30 } # slowly');
    const before = workbench.file(FILE);
    await drag(sheet()[0].end_s, 1);
    await page
      .getByRole('alert')
      .filter({ hasText: /would end at 1\.?\d* s, before it starts at 3 s/ })
      .waitFor();
    expect(workbench.file(FILE)).toBe(before);
  });

  test('tells an edit from outside instead of writing over it, and cues that lie over each other', async () => {
    const { page } = await open();
    await page.getByRole('button', { name: 'Change wheel left at 3 s' }).click();
    const form = page.getByRole('form', { name: 'Change the cue wheel left' });
    await form.getByLabel('Note').fill('slowly, engine off');
    const theirs = SHEET.replace('end_s: 6', 'end_s: 7');
    writeFileSync(join(workbench.folder, FILE), theirs);
    await form.getByRole('button', { name: 'Keep the change' }).click();
    await page
      .getByRole('alert')
      .filter({ hasText: 'was changed by someone else since it was read: nothing was saved' })
      .waitFor();
    expect(workbench.file(FILE)).toBe(theirs);
    await form.getByRole('button', { name: 'Back' }).click();
    await page
      .getByRole('row', { name: /wheel left/ })
      .getByText('7', { exact: true })
      .waitFor();
    await page.getByRole('button', { name: 'Add a cue …' }).click();
    const add = page.getByRole('form', { name: 'Add a cue' });
    await add.getByLabel('What was done').fill('wheel left');
    await add.getByLabel('Start, s').fill('5');
    await add.getByLabel('End, s').fill('8');
    await add.getByRole('button', { name: 'Add', exact: true }).click();
    await page.getByText('begins while the one from 3 to 7 s still lasts').waitFor();
    await page.getByRole('button', { name: 'Delete wheel left at 5 s' }).click();
    await page.getByText('Cue “wheel left” is deleted.').waitFor();
    expect(workbench.file(FILE)).toBe(theirs);
  });

  test('follows the theme of the reader', async () => {
    opened = await workbench.open(ADDRESS, { colorScheme: 'dark' });
    const { page } = opened;
    const brightest = () =>
      page.locator('canvas.stretch').evaluate((canvas: HTMLCanvasElement) => {
        const data = canvas.getContext('2d')?.getImageData(0, 0, canvas.width, canvas.height).data ?? [];
        let sum = 0;
        let n = 0;
        for (let i = 0; i < data.length; i += 4)
          if (data[i + 3] === 255) {
            sum += data[i] as number;
            n++;
          }
        return n === 0 ? Number.NaN : sum / n;
      });
    await expect.poll(brightest).toBeGreaterThan(0);
    const drawing = await brightest();
    await page.emulateMedia({ colorScheme: 'light' });
    await expect.poll(async () => Math.abs((await brightest()) - drawing)).toBeGreaterThan(40);
  });
});
