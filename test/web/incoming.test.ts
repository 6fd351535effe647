import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { CAPTURE, startWorkbench, type TestWorkbench, withoutChromium } from './workbench.ts';

const LINES = [
  'when;what;carried',
  ...Array.from({ length: 40 }, (_, n) => `${n / 50};${100 + (n % 3)};00 11 2${n % 10}`),
];
const TYPED = { name: 'typed.txt', mimeType: 'text/plain', buffer: Buffer.from(`${LINES.join('\n')}\n`) };

describe.skipIf(withoutChromium)('recordings taken in on the Captures sheet', () => {
  let workbench: TestWorkbench;
  const pages: Page[] = [];

  beforeAll(async () => {
    workbench = await startWorkbench();
  });
  afterAll(() => workbench?.close());
  afterEach(async () => {
    for (const page of pages.splice(0)) await page.close();
  });

  const open = async (options = {}) => {
    const sheet = await workbench.open('#/captures', options);
    pages.push(sheet.page);
    await sheet.page.getByRole('button', { name: 'Choose files' }).waitFor();
    return sheet;
  };
  const choose = (page: Page, file: { name: string; mimeType: string; buffer: Buffer }) =>
    page.locator('input[type=file]').setInputFiles(file);
  const inCaptures = () => readdirSync(join(workbench.folder, 'captures')).sort();

  test('a dropped text shows how it was read, is read again by named columns, and is accepted by keyboard', async () => {
    const { page, trouble } = await open();
    const data = await page.evaluateHandle(
      ([name, text]) => {
        const transfer = new DataTransfer();
        transfer.items.add(new File([text as string], name as string));
        return transfer;
      },
      [TYPED.name, TYPED.buffer.toString()],
    );
    await page.dispatchEvent('main', 'dragover', { dataTransfer: data });
    await page.locator('.slot.over').waitFor();
    await page.dispatchEvent('main', 'drop', { dataTransfer: data });
    const card = page.getByRole('region', { name: /^typed\.txt, .* not yet in the build$/ });
    await card.getByText('40 of 40 sample lines fit').first().waitFor();
    expect(await card.getByRole('row', { name: /as written when;what;carried/ }).count()).toBe(1);
    const columns = card.getByRole('textbox', { name: /^Columns in their order/ });
    await columns.fill('time:ms,id:dec,data');
    await columns.press('Enter');
    await card.getByRole('row', { name: /^as named 0\.000020 0 065 00 11 21/ }).waitFor();
    expect(await card.getByRole('row', { name: /not in buses|chassis 40 3 064 065 066/ }).count()).toBe(1);
    await card.getByRole('textbox', { name: /^Name in captures/ }).press('Enter');
    await page.getByText('captures/typed.pcapng is in the build.').waitFor();
    await page.getByRole('link', { name: 'typed.pcapng' }).waitFor();
    expect(await card.count()).toBe(0);
    expect(inCaptures()).toEqual([CAPTURE, 'typed.pcapng']);
    // A page that hears of the new file before the answer to its own question asks once for what waits no more.
    expect(trouble.filter((line) => !line.includes('404'))).toEqual([]);
  });

  test('the name of another is not taken, the same content is said, and a refused one leaves nothing', async () => {
    const { page, trouble } = await open();
    const buffer = readFileSync(join(workbench.folder, 'captures', CAPTURE));
    await choose(page, { name: CAPTURE, mimeType: '', buffer });
    const card = page.getByRole('region', { name: /not yet in the build/ });
    await card.getByText(`captures/${CAPTURE} has the same content,`).waitFor();
    await card.getByText('is not overwritten').waitFor();
    const name = card.getByRole('textbox', { name: /^Name in captures/ });
    expect(await name.inputValue()).toBe('turns on the stand-2.pcapng');
    await name.fill(CAPTURE);
    await card.getByRole('button', { name: 'Accept' }).click();
    await card.getByRole('alert').filter({ hasText: 'choose another name' }).waitFor();
    // A page that is loaded again still shows what waits.
    await page.reload();
    const before = inCaptures();
    expect(before.some((entry) => entry.startsWith('.incoming'))).toBe(true);
    await card.getByRole('button', { name: 'Refuse' }).click();
    await page.getByText('was refused and deleted here').waitFor();
    expect(inCaptures()).toEqual(before.filter((entry) => !entry.startsWith('.')));
    // The refusal above is a reply of status 409, which the browser logs.
    expect(trouble.filter((line) => !line.includes('409'))).toEqual([]);
  });

  test('what is no recording is told in a sentence and can only be refused', async () => {
    const { page } = await open();
    await choose(page, {
      name: 'letter.txt',
      mimeType: 'text/plain',
      buffer: Buffer.from('Dear reader,\ngood day.\n'),
    });
    const card = page.getByRole('region', { name: /^letter\.txt/ });
    await card.getByRole('alert').filter({ hasText: 'letter.txt: The text is not a recording' }).waitFor();
    expect(await card.getByRole('button', { name: 'Accept' }).count()).toBe(0);
    await card.getByRole('button', { name: 'Refuse' }).click();
    await card.waitFor({ state: 'detached' });
    await choose(page, { name: 'none.csv', mimeType: 'text/plain', buffer: Buffer.alloc(0) });
    await page.getByRole('alert').filter({ hasText: 'none.csv is empty' }).waitFor();
  });

  test('sending shows how far it is and can be stopped', async () => {
    const { page } = await open();
    const device = await page.context().newCDPSession(page);
    await device.send('Network.enable');
    await device.send('Network.emulateNetworkConditions', {
      offline: false,
      latency: 0,
      downloadThroughput: -1,
      uploadThroughput: 300_000,
    });
    await choose(page, { name: 'long.csv', mimeType: 'text/csv', buffer: Buffer.alloc(4_000_000, 'x') });
    await page.getByRole('progressbar', { name: 'Sending long.csv' }).waitFor();
    await page.getByRole('button', { name: 'Stop' }).click();
    await page.getByText('long.csv was stopped; nothing of it was kept.').waitFor();
    await expect.poll(() => inCaptures().filter((name) => name.startsWith('.'))).toEqual([]);
  });
});
