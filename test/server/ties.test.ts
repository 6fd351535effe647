import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type {
  CutsReply,
  DictionaryReply,
  FindingsReply,
  FollowersReply,
  RelationsReply,
  RetestReply,
} from '../../src/server/api.ts';
import { driveCsv, served, settled } from './serve.ts';

const FINDINGS = '/api/captures/drive.csv/findings';
const ANGLE = { id: '0E5', ext: 0, start: 0, length: 16, selectorValue: null };
const CUES = `form: cues/1
capture: drive.csv
cues:
${[2, 9, 16, 23, 30].map((s) => `  - {name: turn, start_s: ${s}, end_s: ${s + 2}}`).join('\n')}
`;

describe('findings', () => {
  test('that were worked out once are there at the next start', async () => {
    const first = await served();
    const reply = (await settled(first, FINDINGS)).json;
    const kept = join(first.folder, '.cache/worked-out');
    const file = readdirSync(kept).find((name) => name.startsWith('findings.')) as string;
    const again = await served(
      { [`.cache/worked-out/${file}`]: readFileSync(join(kept, file)) },
      { findings: () => Promise.reject(new Error('not needed')) },
    );
    const second = await again.get(FINDINGS);
    expect(second.status).toBe(200);
    expect(second.json).toEqual(reply);
  });

  test('of all captures together count the frames of each, and name each as the source of evidence', async () => {
    const server = await served({ 'captures/second.csv': driveCsv(), 'captures/spoilt.pcapng': 'nothing' });
    const reply: FindingsReply = (await settled(server, '/api/captures/*/findings')).json;
    expect(reply.frames).toBe(12_000);
    const { start, length } = reply.messages[0]!.counter!;
    const key = { id: '0C4', ext: 0, field: 'counter', start, length, selectorValue: null };
    const { json } = await server.post('/api/dictionary/chassis/accept', { capture: '*', key });
    expect((json as DictionaryReply).dictionary?.messages[0]?.counter?.evidence?.[0]?.capture).toBe(
      'drive.csv, second.csv, spoilt.pcapng',
    );
    const series = await server.get(
      '/api/captures/*/series?bus=1&id=0E5&ext=0&start=0&length=16&byteOrder=little&signed=true',
    );
    expect(series.json.frames).toBe(8000);
  });

  test('say which messages share a clock and how many units there may be', async () => {
    const server = await served();
    const reply: FindingsReply = (await settled(server, FINDINGS)).json;
    for (const { sender } of reply.messages)
      expect(sender.group !== null || sender.reason !== null).toBe(true);
  });
});

describe('entries of the dictionary', () => {
  test('are put right, rejected, taken back and undone in turn', async () => {
    const server = await served();
    const path = join(server.folder, 'dictionary/chassis.yaml');
    const before = readFileSync(path, 'utf8');
    const edited = await server.post('/api/dictionary/chassis/edit', {
      place: ANGLE,
      change: { name: 'wheel angle', unit: 'rad' },
    });
    expect((edited.json as DictionaryReply).dictionary?.messages[1]?.signals[0]).toMatchObject({
      name: 'wheel angle',
      unit: 'rad',
    });
    expect(edited.json.undo).toBe(1);
    const reopened = await server.post('/api/dictionary/chassis/reopen', { place: ANGLE });
    expect([reopened.status, reopened.json.error]).toEqual([
      409,
      'the field at bit 0, 16 long, is not rejected',
    ]);
    const undone = await server.post('/api/dictionary/chassis/undo', {});
    expect(undone.json.undo).toBe(0);
    expect(readFileSync(path, 'utf8')).toBe(before);
    const none = await server.post('/api/dictionary/chassis/undo', {});
    expect([none.status, none.json.error]).toEqual([
      409,
      'no change of this dictionary is left to take back',
    ]);
  });

  test('are not changed by requests that are not in order', async () => {
    const server = await served();
    const path = join(server.folder, 'dictionary/chassis.yaml');
    const before = readFileSync(path, 'utf8');
    const bodies: [string, unknown, number][] = [
      ['edit', { place: ANGLE, change: { name: '' } }, 409],
      ['edit', { place: ANGLE, change: { scale: 'much' } }, 400],
      ['edit', { place: ANGLE, change: { state: 'accepted' } }, 400],
      ['edit', { place: ANGLE, change: { length: 99 } }, 400],
      ['edit', { place: { ...ANGLE, id: '../0E5' }, change: { unit: 'x' } }, 400],
      ['edit', { place: { ...ANGLE, id: '7FF' }, change: { unit: 'x' } }, 409],
      ['edit', { change: {} }, 400],
      ['turn-down', { place: ANGLE, reason: 7 }, 400],
      ['turn-down', { place: { ...ANGLE, length: 3 } }, 409],
      ['reopen', {}, 400],
      ['reopen', { place: { ...ANGLE, start: 1.5 } }, 400],
      ['undo', { all: true }, 400],
      ['undo', [], 400],
      ['accept', { capture: 'drive.csv', key: { ...ANGLE, field: 'signal' }, cut: { start: 0 } }, 400],
    ];
    for (const [verb, body, status] of bodies) {
      const reply = await server.post(`/api/dictionary/chassis/${verb}`, body);
      expect([verb, body, reply.status]).toEqual([verb, body, status]);
      expect(reply.json.error).toMatch(/\S/);
    }
    for (const bus of ['none', '..%2fchassis', '%2e%2e'])
      expect((await server.post(`/api/dictionary/${bus}/edit`, { place: ANGLE, change: {} })).status).toBe(
        404,
      );
    const noToken = await server.ask('/api/dictionary/chassis/undo', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: '{}',
    });
    expect(noToken.status).toBe(403);
    expect(readFileSync(path, 'utf8')).toBe(before);
  });
});

describe('ties', () => {
  test('relations and followers are worked out by jobs and come with the names of the dictionary', async () => {
    const place = { bus: 0, id: 0x0c4, extended: false, start: 7, length: 16, byteOrder: 'big' } as const;
    const other = { ...place, bus: 1, id: 0x0e5, start: 0, byteOrder: 'little' } as const;
    const figures = { factor: 2, offset: 0, withFactor: 0, delayS: 0.01, delayLowS: 0, delayHighS: 0.02 };
    const server = await served(
      { 'cues/drive.yaml': CUES },
      {
        relations: async () => ({
          relations: [
            {
              kind: 'copy',
              from: place,
              to: other,
              with: null,
              ...figures,
              r: 0.99,
              probability: 0.9,
              evidence: [],
            },
          ],
          copies: [[place, other]],
          names: [],
        }),
      },
    );
    const ties: RelationsReply = (await settled(server, '/api/captures/drive.csv/relations')).json;
    expect(ties.signals.map(({ busName, id, name, state }) => [busName, id, name, state])).toEqual([
      ['chassis', '0C4', 'speed', 'accepted'],
      ['control', '0E5', null, 'open'],
    ]);
    expect(ties.relations[0]).toMatchObject({ kind: 'copy', from: 0, to: 1, with: null, factor: 2 });
    expect(ties.copies).toEqual([[0, 1]]);
    const followers: FollowersReply = (await settled(server, '/api/captures/drive.csv/followers')).json;
    expect(followers.cues?.map(({ name, repeats }) => [name, repeats])).toEqual([['turn', 5]]);
  });

  test('a cue that a signal followed stands beside its entry, with its name', async () => {
    const place = { bus: 1, id: 0x0e5, extended: false, byteOrder: 'little' } as const;
    const ranked = { pAlone: 0.001, agreement: 0.9, by: 'value', lagS: 0 } as const;
    const evidence = [{ text: 'Mean raw value 90 in its windows and 2 otherwise.' }];
    const server = await served(
      { 'cues/drive.yaml': CUES },
      {
        cues: async (_, findings) => {
          const { start, length } = findings.messages[1]!.signals.find(({ kind }) => kind === 'number')!;
          const here = { ...place, start, length, ...ranked, evidence };
          return [
            {
              name: 'turn',
              repeats: 5,
              more: 0,
              open: null,
              candidates: [{ ...here, rank: 1, pValue: 0.004 }],
            },
            {
              name: 'horn',
              repeats: 5,
              more: 0,
              open: null,
              candidates: [{ ...here, rank: 1, pValue: 0.3 }],
            },
          ];
        },
      },
    );
    await settled(server, '/api/captures/drive.csv/followers');
    const reply: FindingsReply = (await server.get(FINDINGS)).json;
    const { start, length } = reply.messages[1]!.signals.find(({ kind }) => kind === 'number')!;
    const key = { id: '0E5', ext: 0, field: 'signal', start, length, selectorValue: null };
    const accepted = await server.post('/api/dictionary/control/accept', {
      capture: 'drive.csv',
      key,
      name: 'wheel',
      messageName: 'column',
    });
    const message = (accepted.json as DictionaryReply).dictionary?.messages.find((m) => m.name === 'column');
    expect(message?.signals[0]?.evidence?.filter(({ cue }) => cue !== undefined)).toEqual([
      {
        capture: 'drive.csv',
        cue: 'turn',
        text: `followed the cue “turn”, chance 0.004: ${evidence[0]?.text}`,
      },
    ]);
  });

  test('a capture without a cue sheet has no followers, and that is no error', async () => {
    const server = await served({}, { cues: () => Promise.reject(new Error('not needed')) });
    expect((await settled(server, '/api/captures/drive.csv/followers')).json.cues).toBeNull();
  });

  test('another cut of a field is counted beside the one that was found', async () => {
    const server = await served();
    const path =
      '/api/captures/drive.csv/cuts?bus=1&id=0E5&ext=0&start=0&length=16&byteOrder=little&signed=true';
    const reply: CutsReply = (await settled(server, path)).json;
    expect(reply.frames).toBe(4000);
    const [found, ...others] = reply.cuts;
    expect(found).toMatchObject({ words: 'as found', jumps: 0, low: -3000, high: 3000 });
    const without = others.find(({ words }) => words === 'without sign');
    expect(without?.jumps).toBeGreaterThan(0);
    const big = others.find(({ words }) => words === 'big-endian');
    expect(big).toMatchObject({ start: 7, length: 16, byteOrder: 'big' });
    expect(big?.roughness).toBeGreaterThan(10 * (found?.roughness ?? 1));
  });

  test('questions that are not in order are refused with what would be right', async () => {
    const server = await served();
    await settled(server, FINDINGS);
    for (const [path, status, words] of [
      ['/api/captures/drive.csv/cuts?bus=1&id=0E5&ext=0&start=0', 400, 'expected'],
      [
        '/api/captures/drive.csv/cuts?bus=1&id=7FF&ext=0&start=0&length=8&byteOrder=little',
        404,
        'no message 7FF',
      ],
      ['/api/captures/none.csv/relations', 404, 'no file of this name'],
      ['/api/captures/..%2fbuild.yaml/followers', 404, 'no file of this name'],
      ['/api/captures/**/findings', 404, 'no file of this name'],
    ] as const) {
      const reply = await server.get(path);
      expect([path, reply.status]).toEqual([path, status]);
      expect(reply.json.error).toContain(words);
    }
  });
});

test('entries that a capture contradicts are told with what it shows instead', async () => {
  const server = await served();
  const reply: RetestReply = (await settled(server, '/api/retest')).json;
  expect(reply.captures).toEqual(['drive.csv']);
  expect(reply.contradictions).toEqual([]);
  await server.post('/api/dictionary/chassis/edit', {
    place: { id: '0C4', ext: 0, start: 7, length: 16, selectorValue: null },
    change: { max: 40 },
  });
  const after: RetestReply = (await settled(server, '/api/retest')).json;
  expect(after.contradictions.map(({ id, name, capture }) => [id, name, capture])).toEqual([
    ['0C4', 'speed', 'drive.csv'],
  ]);
  expect(after.contradictions[0]?.text).toMatch(
    /^accepted as 0 … 40 km\/h; in drive.csv .* lie outside, the first 40\.\d/,
  );
});
