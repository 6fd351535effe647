/** `talks` and `health` on small recordings, through the command line as it is parsed for a user. */
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, afterEach, describe, expect, test } from 'vitest';
import { EXIT } from '../../src/cli/exit.ts';
import { wagtail } from '../build/folder.ts';
import { run } from './inProcess.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright reports '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => {
  process.exitCode = undefined;
});

function recording(name: string, lines: readonly string[]): string {
  const path = join(folder, name);
  writeFileSync(path, `t,bus,id,ext,data\n${lines.join('\n')}\n`);
  return path;
}

const visit = recording('visit.csv', [
  '0.000,0,7DF,0,02010dcccccccccc',
  '0.012,0,7E8,0,03410d3ccccccccc',
  '0.500,0,7E0,0,0322f190cccccccc',
  '0.510,0,7E8,0,101462f190314434',
  '0.512,0,7E0,0,300000cccccccccc',
  '0.514,0,7E8,0,2147503030523535',
  '0.516,0,7E8,0,2242313233343536',
  '0.700,0,7E0,0,0227010000000000',
  '0.710,0,7E8,0,037f2733cccccccc',
  '0.900,0,7E8,0,101462f190314434',
  '0.910,0,7E8,0,2247503030523535',
]);

describe('talks', () => {
  test('prints who sends what, requests with answers in words and units, and faults with their place', async () => {
    const { code, out } = await run('talks', visit);
    expect(code).toBe(EXIT.done);
    expect(out).toMatch(/7E8 +ISO 15765-2/);
    expect(out).toMatch(/7DF +7E8 +current values +answered +12\.0 +vehicle speed 60 km\/h/);
    expect(out).toMatch(/security access +refused: security access denied/);
    expect(out).toMatch(/bus 0 7E8, 0\.910 s, frame 10: part 2 came where part 1 was due/);
  });

  test('prints the form talks/1 and nothing else on standard output', async () => {
    const { out } = await run('talks', visit, '--json');
    const form = JSON.parse(out);
    expect(form.form).toBe('talks/1');
    expect(form.exchanges.map((e: { outcome: string }) => e.outcome)).toEqual([
      'answered',
      'answered',
      'refused',
    ]);
    expect(form.exchanges[1]).toMatchObject({ service: '22', from: '7E0', to: '7E8', delayMs: 10 });
    expect(form.transfers[form.exchanges[1].answer]).toMatchObject({
      frames: 3,
      start: 0.51,
      end: 0.516,
      group: null,
    });
    expect(form.faults).toMatchObject([{ reason: 'wrongNumber', frame: 10, kept: false }]);
  });

  test('names of pairs that are none are refused in one sentence', async () => {
    for (const pair of ['614', '614:65', '7FF:800', '614:654:byte']) {
      const { code, err } = await run('talks', visit, '--pair', pair);
      expect([pair, code]).toEqual([pair, EXIT.badInput]);
      expect(err).toContain('right would be two hex identifiers');
    }
  });

  test('a recording without any says so', async () => {
    const path = recording('plain.csv', ['0.0,0,123,0,0102', '0.1,0,123,0,0103', '0.2,0,123,0,0104']);
    expect((await run('talks', path)).out).toContain('Nothing in this recording');
  });
});

test('talks prints requests for groups with what came of them', async () => {
  const asked = recording('asked.csv', [
    '0.000,0,18EA00F9,1,ecfe00',
    '0.012,0,18FEEC00,1,0102030405060708',
    '0.100,0,18EAFFF9,1,cbfe00',
    '0.104,0,18E8FF03,1,01fffffff9cbfe00',
    '3.000,0,18FEEE07,1,0102030405060708',
  ]);
  const { out } = await run('talks', asked);
  expect(out).toMatch(/0\.000 +0 +249 +0 +65260 +answered +0 +12\.0 +0102030405060708/);
  expect(out).toMatch(/0\.100 +0 +249 +all +65227 +refused +3 +4\.0/);
  expect(JSON.parse((await run('talks', asked, '--json')).out).groupRequests[0]).toEqual({
    t: 0,
    bus: 0,
    group: 65260,
    from: 249,
    to: 0,
    outcome: 'answered',
    by: 0,
    delayMs: 12,
    alsoUnasked: false,
    frame: 0,
    answer: 1,
    transfer: null,
    said: '0102030405060708',
  });
});

describe('health', () => {
  const lines: string[] = [];
  for (let n = 0; n < 1000; n++) {
    const count = (n & 15).toString(16).padStart(2, '0');
    if (n !== 500 && n !== 501)
      lines.push(`${(n * 0.01).toFixed(6)},0,101,0,${count}55${(n & 255).toString(16).padStart(2, '0')}`);
    lines.push(
      `${(n * 0.01 + 0.004).toFixed(6)},0,202,0,aabb${((n * 7) & 255).toString(16).padStart(2, '0')}`,
    );
  }
  const drive = recording('drive.csv', lines);

  test('prints the load, the census and what to look at', async () => {
    const { code, out } = await run('health', drive, '--bit-rate', '500000');
    expect(code).toBe(EXIT.done);
    expect(out).toMatch(/101 +998 +10\.00 .* 2 +counter +0/);
    expect(out).toMatch(/0 +1,998 +[\d,]+ +\d\.\d %/);
    expect((await run('health', drive)).out).toContain('its load needs a bit rate (--bit-rate)');
    expect((await run('health', drive, '--bit-rate', '0=10000')).out).toContain('load cannot be');
  });

  test('takes the bit rates from the build in which the recording lies, unless told others', async () => {
    const build = mkdtempSync(join(folder, 'van '));
    for (const [name, content] of Object.entries(wagtail())) {
      mkdirSync(dirname(join(build, name)), { recursive: true });
      writeFileSync(join(build, name), content);
    }
    mkdirSync(join(build, 'captures'));
    const kept = join(build, 'captures', 'drive.csv');
    copyFileSync(drive, kept);
    const loads = async (...args: string[]) => {
      const { out, err } = await run('health', ...args, '--json');
      return { mean: JSON.parse(out).buses[0].load.mean, err };
    };
    const asTold = await loads(drive, '--bit-rate', '500000');
    const known = await loads(kept);
    expect(asTold.mean).toBeGreaterThan(0);
    expect(known.mean).toBe(asTold.mean);
    expect(known.err).toContain('bit rates from buses.yaml, bit/s: bus 0 500,000, bus 1 500,000');
    expect((await loads(kept, '--bit-rate', '250000')).mean).toBeCloseTo(2 * asTold.mean, 5);
    // Of the one outside nothing is known.
    expect((await loads(kept, drive)).mean).toBeNull();
  });

  test('prints the form health/1 and nothing else on standard output', async () => {
    const { out } = await run('health', drive, '--json', '--window', '2');
    const form = JSON.parse(out);
    expect(form).toMatchObject({
      form: 'health/1',
      frames: 1998,
      clock: { back: [], backCount: 0, outOfOrder: 0 },
    });
    expect(form.buses[0].load).toMatchObject({ windowS: 2, share: null, dataBits: [] });
    expect(form.buses[0].load.nominalBits).toHaveLength(5);
    expect(form.messages[0]).toMatchObject({
      id: '101',
      ext: 0,
      lost: { frames: 2, by: 'counter' },
      senders: null,
    });
  });

  test('bit rates and windows that are none are refused in one sentence', async () => {
    for (const args of [
      ['--bit-rate', 'fast'],
      ['--bit-rate', '300=500000'],
      ['--bit-rate', '0=5'],
      ['--data-rate', '0=1e9'],
      ['--window', '0'],
    ]) {
      const { code, err } = await run('health', drive, ...args);
      expect([args, code]).toEqual([args, EXIT.badInput]);
      expect(err).toMatch(/right would be/);
    }
  });
});
