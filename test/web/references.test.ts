import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { movingCsv, receiverCsv, referenceYaml } from '../build/reference/drive.ts';
import { startWorkbench, type TestWorkbench, withoutChromium } from './workbench.ts';

describe.skipIf(withoutChromium)('reference channels on the sheet of a capture', () => {
  let bench: TestWorkbench;

  beforeAll(async () => {
    bench = await startWorkbench();
    mkdirSync(join(bench.folder, 'reference'));
    const files = {
      'captures/moving.csv': movingCsv(),
      'reference/receiver.csv': receiverCsv(),
      'reference/roof.yaml': referenceYaml('file: receiver.csv'),
    };
    for (const [name, text] of Object.entries(files)) writeFileSync(join(bench.folder, name), text);
  }, 120_000);
  afterAll(() => bench?.close());

  test('a channel is laid over a signal by keyboard alone, and its clock accepted', async () => {
    const { page, trouble } = await bench.open('#/captures/moving.csv');
    await page.getByRole('heading', { name: 'Reference channels' }).waitFor();
    const row = page.getByRole('row', { name: /satellite speed/ });
    expect(await row.textContent()).toContain('not known');
    await row.getByRole('button', { name: /Lay over a signal/ }).press('Enter');
    const input = page.getByLabel('Signal of the capture that moves as satellite speed does');
    await input.fill('wheel_speed');
    await input.press('Enter');
    const figure = page.getByRole('img', { name: /^satellite speed laid over chassis wheel_speed speed/ });
    await figure.waitFor();
    expect(await page.getByRole('row', { name: /^Offset/ }).textContent()).toMatch(/\+3\.\d+ ± 0\.\d+ s/);
    expect(bench.file('reference/roof.yaml')).not.toContain('clock');
    await page.getByRole('button', { name: 'Accept this clock' }).press('Enter');
    await page
      .getByRole('row', { name: /satellite speed.*accepted/s })
      .first()
      .waitFor();
    expect(bench.file('reference/roof.yaml')).toMatch(/clock:\n {2}offset_s: 3\.\d/);
    expect(trouble).toEqual([]);
    const shots = process.env['BYWRIGHT_SHOTS'];
    for (const colorScheme of shots ? (['light', 'dark'] as const) : []) {
      await page.emulateMedia({ colorScheme });
      await page.getByRole('heading', { name: 'Reference channels' }).scrollIntoViewIfNeeded();
      await page.screenshot({ path: `${shots}/references-${colorScheme}.png`, fullPage: true });
    }
  });

  test('a signal that is not there is told in a sentence, and a capture without channels has no such section', async () => {
    const { page } = await bench.open('#/captures/moving.csv');
    await page.getByRole('button', { name: /Lay over a signal/ }).click();
    await page.getByLabel(/Signal of the capture/).fill('altitude');
    await page.getByRole('button', { name: 'Find the offset' }).click();
    await page.getByText(/no accepted signal holds "altitude"/i).waitFor();
    const other = await bench.open('#/captures/turns%20on%20the%20stand.pcapng');
    await other.page.getByRole('heading', { name: 'Census' }).waitFor();
    expect(await other.page.getByRole('heading', { name: 'Reference channels' }).count()).toBe(0);
  });
});
