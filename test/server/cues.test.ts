import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { CuesReply } from '../../src/server/api.ts';
import { served } from './serve.ts';

const AT = '/api/captures/drive.csv/cues';
const SHEET = 'form: cues/1\ncapture: drive.csv\ncues:\n  - { name: a, start_s: 1, end_s: 5 } # by hand\n';
const cue = { name: 'brake pressed', startS: 3, endS: 4.5 };

test('a first cue begins a sheet; changes are saved one at a time and taken back one at a time', async () => {
  const { get, post, folder } = await served();
  const none: CuesReply = (await get(AT)).json;
  expect(none).toMatchObject({ sheets: [], newFile: 'cues/drive.yaml', undo: 0, problems: [] });
  const added = await post(AT, { file: none.newFile, hash: null, change: { do: 'add', cue } });
  expect(added.status).toBe(200);
  expect(added.json.sheets[0].cues).toEqual([cue]);
  const { hash } = added.json.sheets[0];
  const level = { ...cue, level: 2, note: 'hard' };
  const changed: CuesReply = (
    await post(AT, { file: none.newFile, hash, change: { do: 'change', index: 0, cue: level } })
  ).json;
  expect(changed).toMatchObject({ undo: 2, sheets: [{ cues: [level] }] });
  expect((await post(`${AT}/undo`, {})).json.sheets[0].cues).toEqual([cue]);
  expect((await post(`${AT}/undo`, {})).json.sheets[0].cues).toEqual([]);
  const over = await post(`${AT}/undo`, {});
  expect([over.status, over.json.error]).toEqual([409, 'no change of these cues is left to take back']);
  expect(readFileSync(join(folder, 'cues/drive.yaml'), 'utf8')).toContain('capture: drive.csv');
});

test('an edit from outside is never overwritten, neither by a change nor by taking one back', async () => {
  const { get, post, folder } = await served({ 'cues/by hand.yaml': SHEET });
  const file = 'cues/by hand.yaml';
  const { hash } = ((await get(AT)).json as CuesReply).sheets[0]!;
  const theirs = SHEET.replace('end_s: 5', 'end_s: 6');
  writeFileSync(join(folder, file), theirs);
  const late = await post(AT, { file, hash, change: { do: 'delete', index: 0 } });
  expect(late.status).toBe(409);
  expect(late.json.error).toContain('cues/by hand.yaml was changed by someone else');
  expect(readFileSync(join(folder, file), 'utf8')).toBe(theirs);
  const now = ((await get(AT)).json as CuesReply).sheets[0]!.hash;
  expect((await post(AT, { file, hash: now, change: { do: 'delete', index: 0 } })).status).toBe(200);
  writeFileSync(join(folder, file), SHEET);
  const undo = await post(`${AT}/undo`, {});
  expect([undo.status, readFileSync(join(folder, file), 'utf8')]).toEqual([409, SHEET]);
});

test('a cue that makes no sense is refused, one that lies over its like is told', async () => {
  const { get, post, folder } = await served({ 'cues/x.yaml': SHEET });
  const file = 'cues/x.yaml';
  const { hash } = ((await get(AT)).json as CuesReply).sheets[0]!;
  const add = (c: object) => post(AT, { file, hash, change: { do: 'add', cue: c } });
  const turned = await add({ name: 'b', startS: 2, endS: 1 });
  expect([turned.status, turned.json.error]).toEqual([
    409,
    'the cue "b" would end at 1 s, before it starts at 2 s: give an end of at least 2',
  ]);
  expect((await add({ name: '', startS: 2, endS: 3 })).json.error).toContain('needs a name');
  expect((await add({ name: 'b', startS: 2 })).status).toBe(400);
  expect((await post(AT, { file: '../build.yaml', hash, change: { do: 'delete', index: 0 } })).status).toBe(
    400,
  );
  expect((await post(AT, { file: 'cues/..', hash, change: { do: 'delete', index: 0 } })).status).toBe(400);
  expect((await post(AT, { file, hash: 'x', change: { do: 'delete', index: 0 } })).status).toBe(400);
  expect((await post(AT, { file, hash, change: { do: 'delete', index: 7 } })).status).toBe(409);
  expect(
    (await post('/api/captures/none.csv/cues', { file, hash, change: { do: 'delete', index: 0 } })).status,
  ).toBe(404);
  expect(readFileSync(join(folder, file), 'utf8')).toBe(SHEET);
  expect(existsSync(join(folder, 'cues/drive.yaml'))).toBe(false);
  const over = await add({ name: 'a', startS: 4, endS: 6 });
  expect(over.json.sheets[0].overlaps).toEqual([{ earlier: 0, later: 1 }]);
  expect(readFileSync(join(folder, file), 'utf8')).toContain('end_s: 5 } # by hand\n  - name: a\n');
});
