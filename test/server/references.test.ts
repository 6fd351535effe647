import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { BEHIND_S, movingCsv, receiverCsv, referenceYaml } from '../build/reference/drive.ts';
import { served } from './serve.ts';

const FILES = {
  'captures/moving.csv': movingCsv(),
  'reference/roof.yaml': referenceYaml('file: receiver.csv'),
  'reference/receiver.csv': receiverCsv(),
};
const at = '/api/captures/moving.csv/references';
const question = (signal: string, more = '') =>
  `${at}/alignment?channel=${encodeURIComponent('satellite speed')}&signal=${encodeURIComponent(signal)}${more}`;

describe('reference channels', () => {
  test('are listed with the state of their clock and the signals to hold them against', async () => {
    const { get } = await served(FILES);
    const { status, json } = await get(at);
    expect(status).toBe(200);
    expect(json.channels).toHaveLength(1);
    expect(json.channels[0]).toMatchObject({
      name: 'satellite speed',
      path: 'reference/roof.yaml',
      unit: 'km/h',
      values: 500,
      clock: { state: 'unknown', offsetS: null },
    });
    expect(json.signals).toContain('chassis wheel_speed speed');
    expect((await get('/api/captures/drive.csv/references')).json.channels).toEqual([]);
    expect((await get('/api/captures/gone.csv/references')).status).toBe(404);
  });

  test('are laid over a signal, and what was seen is accepted', async () => {
    const { get, post, folder } = await served(FILES);
    const { json } = await get(question('wheel_speed'));
    expect(json.reason).toBeNull();
    expect(json.found.offsetS).toBeCloseTo(BEHIND_S, 1);
    expect(json.found.rivals).toEqual([]);
    expect(json.curves.reference.time[0]).toBeCloseTo(BEHIND_S, 0);
    expect(json.curves.signal.time.length).toBeLessThanOrEqual(1200);
    const seen = { channel: 'satellite speed', signal: 'wheel_speed', offsetS: json.found.offsetS };
    const other = await post(`${at}/accept`, { ...seen, offsetS: 1 });
    expect([other.status, other.json.error]).toEqual([409, expect.stringMatching(/^nothing was written: /)]);
    expect(readFileSync(join(folder, 'reference/roof.yaml'), 'utf8')).not.toContain('clock');
    const accepted = await post(`${at}/accept`, seen);
    expect(accepted.status).toBe(200);
    expect(accepted.json.channels[0].clock).toMatchObject({
      state: 'accepted',
      signal: 'chassis wheel_speed speed',
    });
    expect(accepted.json.channels[0].clock.offsetS).toBeCloseTo(BEHIND_S, 1);
    expect(readFileSync(join(folder, 'reference/roof.yaml'), 'utf8')).toMatch(/clock:\n {2}offset_s: 3\.\d/);
  });

  test('refuse in a sentence what cannot be answered', async () => {
    const { get, post } = await served(FILES);
    expect((await get(question('altitude'))).json.error).toMatch(/no accepted signal holds "altitude"/);
    expect((await get(question('wheel_speed').replace('satellite', 'cellar'))).status).toBe(409);
    expect((await get(question('wheel_speed', '&relation=sideways'))).status).toBe(400);
    expect((await get(question('wheel_speed', '&near=soon'))).status).toBe(400);
    const none = await get(question('chassis:0C4:16:8:little'));
    expect([none.status, none.json.found, none.json.reason]).toEqual([
      200,
      null,
      expect.stringMatching(/stands at 0/),
    ]);
    expect((await post(`${at}/accept`, { channel: 'satellite speed' })).status).toBe(400);
  });
});
