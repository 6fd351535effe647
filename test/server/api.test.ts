import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { guardHash } from '../../src/build/evidence.ts';
import type {
  BuildReply,
  CaptureReply,
  DictionaryReply,
  FindingsReply,
  GuardReply,
  LoadReply,
  SeriesReply,
} from '../../src/server/api.ts';
import { BUILD, GUARD } from '../build/folder.ts';
import { driveCsv, events, served, settled } from './serve.ts';

test('the build comes with its units, counts and captures; broken files come as problems', async () => {
  const { get, folder } = await served();
  const whole: BuildReply = (await get('/api/build')).json;
  expect(whole.build?.title).toBe('Wagtail, by-wire conversion');
  expect(whole.build?.dictionaries[0]).toEqual({
    bus: 'chassis',
    messages: 3,
    accepted: 5,
    proposed: 0,
    rejected: 0,
    counters: 0,
    checks: 0,
  });
  expect(whole.captures.map((c) => [c.name, c.bytes])).toEqual([['drive.csv', driveCsv().length]]);
  expect(whole.problems).toEqual([]);
  writeFileSync(join(folder, 'build.yaml'), BUILD.replace('3.2', 'long'));
  const broken: BuildReply = (await get('/api/build')).json;
  expect(broken.build).toBeNull();
  expect(broken.problems.map((p) => `${p.file}:${p.line} ${p.field}`)).toEqual([
    'build.yaml:9 host.wheelbase_m',
  ]);
  expect(broken.revision).not.toBe(whole.revision);
});

describe('a capture', () => {
  test('is summed up message by message, with the names that the build knows', async () => {
    const { get } = await served();
    const reply: CaptureReply = (await get('/api/captures/drive.csv')).json;
    expect(reply.frames).toBe(6000);
    expect(reply.seconds).toBeCloseTo(39.99, 6);
    expect(reply.origin).toBeNull();
    expect(reply.buses).toEqual([
      { bus: 0, name: 'chassis', bitRateBps: 500_000, frames: 2000, messages: 1 },
      { bus: 1, name: 'control', bitRateBps: 500_000, frames: 4000, messages: 1 },
    ]);
    expect(reply.messages[0]).toMatchObject({
      bus: 0,
      busName: 'chassis',
      id: '0C4',
      ext: 0,
      length: 8,
      frames: 2000,
      firstPayload: '09C4000000000000',
      dictionaryName: 'wheel_speed',
    });
    expect(reply.messages[0]?.periodMs).toBeCloseTo(20, 3);
    expect(reply.messages[1]).toMatchObject({ id: '0E5', busName: 'control', dictionaryName: null });
  });

  test('gives the load of its buses, which adds up to its frames', async () => {
    const { get } = await served();
    const reply: LoadReply = (await get('/api/captures/drive.csv/load?bins=40')).json;
    expect(reply.buses.map((b) => b.frames.reduce((a, n) => a + n, 0))).toEqual([2000, 4000]);
    expect(reply.buses[1]?.frames).toHaveLength(40);
    // A classical frame of 8 bytes has 111 bits and up to 24 stuff bits; 100 of them a second.
    for (const bits of reply.buses[1]?.bitsPerSecond.slice(1, -1) ?? []) {
      expect(bits).toBeGreaterThan(11_000);
      expect(bits).toBeLessThan(13_600);
    }
  });

  test('gives a field over time in which no peak is lost', async () => {
    const { get } = await served();
    const path =
      '/api/captures/drive.csv/series?bus=1&id=0E5&ext=0&start=0&length=16&byteOrder=little&signed=true';
    const fine: SeriesReply = (await get(`${path}&points=4000`)).json;
    const coarse: SeriesReply = (await get(`${path}&points=20`)).json;
    expect(fine.frames).toBe(4000);
    expect(coarse.time).toHaveLength(20);
    expect(Math.min(...coarse.low)).toBe(Math.min(...fine.low));
    expect(Math.max(...coarse.high)).toBe(3000);
    expect(Math.min(...coarse.low)).toBe(-3000);
    const part: SeriesReply = (await get(`${path}&from=10&to=11`)).json;
    expect(part.frames).toBe(101);
    const chosen: SeriesReply = (await get(`${path}&selector=48:4:little:3`)).json;
    expect(chosen.frames).toBe(250);
  });

  test('refuses questions that make no sense, naming the part that is wrong', async () => {
    const { get } = await served();
    const series = '/api/captures/drive.csv/series?bus=1&id=0E5&ext=0&start=0&length=16&byteOrder=little';
    const cases: [string, string][] = [
      [series.replace('length=16', 'length=65'), 'length: found "65"; expected a whole number from 1 to 64'],
      [series.replace('little', 'middle'), 'byteOrder: found "middle"; expected one of little, big'],
      [series.replace('0E5', '8FF'), 'id: found "8FF"; expected an identifier in hex, with ext 0 or 1'],
      [`${series}&selector=x`, 'selector: expected start:length:byteOrder:value, for example 0:8:little:2'],
      ['/api/captures/drive.csv/load?bins=0', 'bins: found "0"; expected a whole number from 1 to 5000'],
    ];
    for (const [path, error] of cases) expect((await get(path)).json).toEqual({ error });
    expect((await get('/api/captures/none.csv')).json).toEqual({
      error: 'there is no file of this name in captures/',
    });
  });

  test('that cannot be read is told in a sentence', async () => {
    const { get } = await served({ 'captures/empty.pcapng': '' });
    const reply = await get('/api/captures/empty.pcapng');
    expect(reply.status).toBe(422);
    expect(reply.json.error).toContain('empty');
    expect((await get('/api/build')).status).toBe(200);
  });
});

describe('findings', () => {
  test('are worked out as a job whose progress everybody hears, and then answered at once', async () => {
    const server = await served();
    const first = await server.get('/api/captures/drive.csv/findings');
    expect(first.status).toBe(202);
    expect(first.json.job).toMatchObject({ kind: 'findings', subject: 'drive.csv', state: 'running' });
    const again = await server.get('/api/captures/drive.csv/findings');
    if (again.status === 202) expect(again.json.job.id).toBe(first.json.job.id);
    const reply: FindingsReply = (await settled(server, '/api/captures/drive.csv/findings')).json;
    expect(reply.messages.map((m) => [m.busName, m.id, m.flipRate.length])).toEqual([
      ['chassis', '0C4', 64],
      ['control', '0E5', 64],
    ]);
    expect(reply.messages[0]?.counter).toMatchObject({ start: 48, length: 4, step: 1, state: 'open' });
    expect((reply.form as { form: string }).form).toBe('findings/1');
    const { jobs } = (await server.get('/api/jobs')).json;
    expect(jobs[0]).toMatchObject({ id: first.json.job.id, state: 'done', fraction: 1, error: null });
  });

  test('can be stopped; other questions are answered meanwhile, and a later question starts anew', async () => {
    let stopped = false;
    const server = await served(
      {},
      {
        findings: (_, { signal, onProgress }) =>
          new Promise((_resolve, reject) => {
            const beat = setInterval(() => onProgress(0.4), 20);
            signal.addEventListener('abort', () => {
              clearInterval(beat);
              stopped = true;
              reject(signal.reason);
            });
          }),
      },
    );
    const seen = events(server, (all) => all.some((e) => e.data['state'] === 'cancelled'));
    const { job } = (await server.get('/api/captures/drive.csv/findings')).json;
    await new Promise((resolve) => setTimeout(resolve, 250));
    expect((await server.get('/api/build')).status).toBe(200);
    expect((await server.post(`/api/cancel/${job.id}`, {})).json.job.state).toBe('cancelled');
    const states = (await seen)
      .filter((e) => e.event === 'job')
      .map((e) => [e.data['state'], e.data['fraction']]);
    expect(states).toContainEqual(['running', 0.4]);
    expect(stopped).toBe(true);
    const next = await server.get('/api/captures/drive.csv/findings');
    expect(next.status).toBe(202);
    expect(next.json.job.id).not.toBe(job.id);
    expect((await server.post('/api/cancel/none', {})).status).toBe(404);
  });

  test('are accepted into the dictionary by their place, with the evidence that was worked out here', async () => {
    const server = await served();
    const reply: FindingsReply = (await settled(server, '/api/captures/drive.csv/findings')).json;
    const message = reply.messages[0]!;
    const { start, length } = message.counter!;
    const key = { id: message.id, ext: message.ext, field: 'counter', start, length, selectorValue: null };
    const changed = events(server, (all) => all.some((e) => e.event === 'changed'));
    const accepted = await server.post('/api/dictionary/chassis/accept', { capture: 'drive.csv', key });
    expect(accepted.status).toBe(200);
    const dictionary: DictionaryReply = accepted.json;
    const evidence = dictionary.dictionary?.messages[0]?.counter?.evidence;
    expect(evidence?.[0]).toMatchObject({ capture: 'drive.csv', text: message.counter?.evidence[0]?.text });
    await changed;
    const after: FindingsReply = (await server.get('/api/captures/drive.csv/findings')).json;
    expect(after.messages[0]?.counter?.state).toBe('accepted');
    const twice = await server.post('/api/dictionary/chassis/accept', { capture: 'drive.csv', key });
    expect([twice.status, twice.json.error]).toEqual([
      409,
      'the counter at bit 48, 4 long, of message 0C4 is accepted already',
    ]);
    const text = readFileSync(join(server.folder, 'dictionary/chassis.yaml'), 'utf8');
    expect(text).toContain('# zero straight ahead');
  });

  test('are kept as rejected with the reason', async () => {
    const server = await served();
    const reply: FindingsReply = (await settled(server, '/api/captures/drive.csv/findings')).json;
    const message = reply.messages[1]!;
    const signal = message.signals.find((s) => s.kind === 'number')!;
    const { start, length, selectorValue } = signal;
    const key = { id: message.id, ext: message.ext, field: 'signal', start, length, selectorValue };
    const body = { capture: 'drive.csv', key, reason: 'moves with the heater' };
    expect((await server.post('/api/dictionary/control/reject', body)).status).toBe(200);
    const after: FindingsReply = (await server.get('/api/captures/drive.csv/findings')).json;
    expect(after.messages[1]?.signals.find((s) => s.start === start)?.state).toBe('rejected');
  });

  test('cannot be accepted with words of evidence, into a bus or from a capture that is not there', async () => {
    const server = await served();
    await settled(server, '/api/captures/drive.csv/findings');
    const key = { id: '0C4', ext: 0, field: 'counter', start: 48, length: 4, selectorValue: null };
    const accept = (bus: string, body: object) => server.post(`/api/dictionary/${bus}/accept`, body);
    const good = { capture: 'drive.csv', key };
    expect((await accept('chassis', { ...good, evidence: [{ text: 'trust me' }] })).status).toBe(400);
    expect((await accept('chassis', { ...good, key: { ...key, start: 'x' } })).status).toBe(400);
    expect((await accept('none', good)).status).toBe(404);
    expect((await accept('..%2fchassis', good)).status).toBe(404);
    expect((await accept('chassis', { ...good, capture: '../build.yaml' })).status).toBe(404);
    expect((await accept('control', good)).json.error).toBe(
      'the capture has no message 0C4 on bus control (number 1)',
    );
    expect((await accept('chassis', { ...good, key: { ...key, field: 'check' } })).json.error).toBe(
      'the check at bit 48, 4 long, of message 0C4 was not found in this capture',
    );
  });
});

describe('the guard', () => {
  const obligation = {
    name: 'order within level',
    sentence: 'The order never exceeds the level.',
    status: 'failed' as const,
    seconds: 0.1,
    hash: 'h',
    counterexample: null,
    note: '',
  };
  const example = {
    form: 'counterexample/1' as const,
    obligation: obligation.name,
    sentence: obligation.sentence,
    stepMs: 10,
    brokenAtStep: 1,
    columns: [{ name: 'order', kind: 'output' as const, note: '', values: [0, 1] }],
  };
  const engines = {
    proof: async (build: Parameters<typeof guardHash>[0]) => ({
      form: {
        form: 'proof/1' as const,
        program: 'guard',
        hash: guardHash(build) ?? '',
        at: '2026-11-25T00:00:00.000Z',
        obligations: [obligation, { ...obligation, name: 'other', status: 'proved' as const }],
      },
      counterexamples: [example],
    }),
    budget: () => ({ form: 'budget/1' as const, channels: [], missing: [] }),
  };

  test('is proved as a job, the proof is kept in the build, and a change of the guard makes it stale', async () => {
    const server = await served({}, engines);
    expect(((await server.get('/api/guard')).json as GuardReply).proof).toBeNull();
    const done = events(server, (all) => all.some((e) => e.data['state'] === 'done'));
    const started = await server.post('/api/prove', {});
    expect([started.status, started.json.job.kind]).toEqual([202, 'proof']);
    await done;
    const guard: GuardReply = (await server.get('/api/guard')).json;
    expect(guard.proofStale).toBe(false);
    const file = guard.proof?.obligations[0]?.counterexample ?? '';
    expect(file).toMatch(/^evidence\/counterexample-order-within-level-[0-9a-f]{8}\.json$/);
    const name = file.replace('evidence/', '');
    expect((await server.get(`/api/evidence/${name}`)).json).toEqual(example);
    expect((await server.get('/api/build')).json.proof).toEqual({
      proved: 1,
      failed: 1,
      notShown: 0,
      vacuous: 0,
      stale: false,
    });
    writeFileSync(join(server.folder, 'guard.yaml'), GUARD.replace('angle_deg: 12}', 'angle_deg: 11}'));
    expect(((await server.get('/api/guard')).json as GuardReply).proofStale).toBe(true);
    expect((await server.get('/api/build')).json.proof.stale).toBe(true);
  });

  test('with a mistake in its file is not proved, and the mistake is told', async () => {
    const server = await served(
      { 'guard.yaml': GUARD.replace('release_ms: 600', 'release_ms: soon') },
      engines,
    );
    const reply = await server.post('/api/prove', {});
    expect(reply.status).toBe(422);
    const guard: GuardReply = (await server.get('/api/guard')).json;
    expect(guard.plan).toBeNull();
    expect(guard.problems.map((p) => p.field)).toEqual(['handover.release_ms']);
  });

  test('of a build whose proof file was damaged counts as not proved', async () => {
    const server = await served({ 'evidence/proof.json': '{"form":"proof/1","obligations":[{}]}' }, engines);
    expect(((await server.get('/api/guard')).json as GuardReply).proof).toBeNull();
    expect((await server.get('/api/build')).json.proof).toBeNull();
  });
});

test('the dossier is one page that only our own pages may show in a frame', async () => {
  const { get } = await served();
  const reply = await get('/api/dossier');
  expect(reply.headers['content-type']).toMatch(/^text\/html/);
  expect(reply.headers['content-security-policy']).toContain("frame-ancestors 'self'");
  expect(reply.headers['content-security-policy']).toContain("default-src 'none'");
  expect(reply.headers['x-frame-options']).toBe('SAMEORIGIN');
  expect(reply.text).toContain('Wagtail, by-wire conversion');
  expect(reply.text).toContain('captures/drive.csv');
});

test('changes in the folder are told, also in folders that were not there at the start', async () => {
  const server = await served();
  const told = (n: number) => (all: { event: string }[]) =>
    all.filter((e) => e.event === 'changed').length >= n;
  const first = events(server, told(1));
  await new Promise((resolve) => setTimeout(resolve, 50));
  writeFileSync(
    join(server.folder, 'units.yaml'),
    `${readFileSync(join(server.folder, 'units.yaml'))}# more\n`,
  );
  const seen = await first;
  expect(seen[0]?.event).toBe('hello');
  expect(seen[1]?.data['revision']).not.toBe(seen[0]?.data['revision']);
  const second = events(server, told(1));
  await new Promise((resolve) => setTimeout(resolve, 50));
  mkdirSync(join(server.folder, 'cues'));
  writeFileSync(join(server.folder, 'cues/1.yaml'), 'form: cues/1\ncapture: drive.csv\ncues: []\n');
  await second;
  const third = events(server, told(1));
  await new Promise((resolve) => setTimeout(resolve, 50));
  rmSync(join(server.folder, 'captures/drive.csv'));
  await third;
});

test('a job waits its turn behind another, and the end of the server stops both', async () => {
  const aborted: string[] = [];
  const server = await served(
    { 'captures/second.csv': `${driveCsv()}\n` },
    {
      findings: (_, { signal }) =>
        new Promise((_resolve, reject) => {
          signal.addEventListener('abort', () => {
            aborted.push('x');
            reject(signal.reason);
          });
        }),
    },
  );
  const one = (await server.get('/api/captures/drive.csv/findings')).json.job;
  const two = (await server.get('/api/captures/second.csv/findings')).json.job;
  await new Promise((resolve) => setTimeout(resolve, 200));
  const { jobs } = (await server.get('/api/jobs')).json;
  expect(jobs.map((j: { id: string; note: string }) => [j.id, j.note])).toEqual([
    [two.id, 'waiting its turn'],
    [one.id, '6,000 frames'],
  ]);
  await server.close();
  expect(aborted).toEqual(['x']);
  await expect(server.get('/api/build')).rejects.toThrow();
});
