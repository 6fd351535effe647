import { request } from 'node:http';
import { describe, expect, test } from 'vitest';
import { unpacked } from '../../src/capture/overview/index.ts';
import type { LaneHead, OverviewHead } from '../../src/server/api.ts';
import { type Served, served } from './serve.ts';

const AT = '/api/captures/drive.csv';
const LANE = `${AT}/lane?bus=1&id=0E5&ext=0&start=0&length=16&byteOrder=little&signed=true`;

async function columns<V>({ port }: Served, path: string) {
  const bytes = await new Promise<Buffer>((resolve, reject) => {
    request({ host: '127.0.0.1', port, path }, (reply) => {
      const parts: Buffer[] = [];
      reply.on('data', (part: Buffer) => parts.push(part));
      reply.on('end', () => resolve(Buffer.concat(parts)));
    })
      .on('error', reject)
      .end();
  });
  return unpacked<V>(new Uint8Array(bytes).buffer);
}

test('the overview of a recording holds the rate of each bus, by the names of the build', async () => {
  const server = await served();
  const { values, columns: got } = await columns<OverviewHead>(server, `${AT}/overview?pixels=100`);
  expect(values).toMatchObject({ first: 0, last: 39.99, from: 0, to: 39.99, count: 6000, hasFrames: false });
  expect(values.buses).toEqual([
    { bus: 0, name: 'chassis', frames: 2000 },
    { bus: 1, name: 'control', frames: 4000 },
  ]);
  const rate = got['mean 1'] as Float32Array;
  expect(rate.length).toBeLessThanOrEqual(100);
  expect(rate.reduce((a, r) => a + r, 0) / rate.length).toBeCloseTo(100, 0);
});

test('a stretch with few frames comes with the frames themselves', async () => {
  const server = await served();
  const path = `${AT}/overview?from=1&to=1.02&pixels=100`;
  const { values, columns: got } = await columns<OverviewHead>(server, `${path}&frames=10`);
  expect(values).toMatchObject({ count: 4, hasFrames: true });
  expect([...(got['time'] ?? [])]).toEqual([1, 1.001, 1.01, 1.02]);
  expect([...(got['bus'] ?? [])]).toEqual([1, 0, 1, 1]);
  expect([...(got['id'] ?? [])]).toEqual([0xe5, 0xc4, 0xe5, 0xe5]);
  expect(got['payload']).toHaveLength(32);
  const few = await columns<OverviewHead>(server, `${path}&frames=3`);
  expect(few.values.hasFrames).toBe(false);
  expect(few.columns['payload']).toBeUndefined();
});

test('a lane has bands over the whole recording and single values close up', async () => {
  const server = await served();
  const whole = await columns<LaneHead>(server, `${LANE}&pixels=50`);
  expect(whole.values).toMatchObject({ kind: 'cells', frames: 4000, range: { low: -3000, high: 3000 } });
  expect(Math.max(...(whole.columns['high'] ?? []))).toBe(3000);
  const close = await columns<LaneHead>(server, `${LANE}&from=10.001&to=10.031&pixels=50`);
  expect(close.values.kind).toBe('single');
  expect([...(close.columns['time'] ?? [])]).toEqual([10, 10.01, 10.02, 10.03, 10.04]);
  expect(close.columns['value']?.[1]).toBe(Math.round(3000 * Math.sin(10.01 / 3)));
});

describe('questions about time that make no sense are refused with the part that is wrong', () => {
  const cases: [string, string][] = [
    [`${AT}/overview?pixels=0`, 'pixels: found "0"; expected a whole number from 1 to 8000'],
    [`${AT}/overview?from=x`, 'from: found "x"; expected a number'],
    [`${AT}/overview?from=1e999`, 'from: found "1e999"; expected a number'],
    [`${AT}/overview?from=5&to=5`, 'to: found "5"; expected a number above from, 5'],
    [`${AT}/overview?frames=99999`, 'frames: found "99999"; expected a whole number from 0 to 4000'],
    [LANE.replace('length=16', 'length=0'), 'length: found "0"; expected a whole number from 1 to 64'],
    [LANE.replace('id=0E5', 'id=zz'), 'id: found "zz"; expected an identifier in hex, with ext 0 or 1'],
    [`${LANE}&selector=1:2`, 'selector: expected start:length:byteOrder:value, for example 0:8:little:2'],
    [`/api/captures/none.csv/overview`, 'there is no file of this name in captures/'],
  ];
  test.each(cases)('%s', async (path, error) => {
    const reply = await (await served()).get(path);
    expect(reply.status).toBeGreaterThanOrEqual(400);
    expect(reply.json).toEqual({ error });
  });

  test('a stretch outside the recording, or a message that is not there, has nothing in it', async () => {
    const server = await served();
    const far = await columns<OverviewHead>(server, `${AT}/overview?from=900&to=901&frames=10`);
    expect([far.values.count, far.columns['mean 0']?.length]).toEqual([0, 0]);
    const none = await columns<LaneHead>(server, LANE.replace('0E5', '7FF'));
    expect(none.values).toMatchObject({ kind: 'single', frames: 0, range: null });
    const long = await columns<LaneHead>(server, LANE.replace('start=0', 'start=500'));
    expect(long.values.frames).toBe(0);
  });
});
