/** `find --cues`, `find --references` and `contrast` through the command line as it is parsed for a user. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, describe, expect, test } from 'vitest';
import { EXIT } from '../../src/cli/exit.ts';
import { run } from './inProcess.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright relations '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => {
  process.exitCode = undefined;
});

const hex = (...bytes: number[]) => bytes.map((b) => b.toString(16).padStart(2, '0')).join('');
const horn = (t: number) => (t >= 5 && t < 7) || (t >= 20 && t < 23) || (t >= 41 && t < 42.5);

/** A minute: a course in two messages, and a flag of the horn. */
function drive(name: string, ids: readonly string[], seconds = 60): string {
  const lines = ['t,bus,id,ext,data'];
  for (let i = 0; i < seconds * 20; i++) {
    const t = i / 20;
    const v = Math.round(120 + 60 * Math.sin(t / 3) + 40 * Math.sin(t / 1.1) + 15 * Math.sin(t * 1.7));
    const payload: Record<string, string> = {
      '100': hex(v, 0, horn(t) ? 0x10 : 0),
      '200': hex(0x55, v, 0),
      '300': hex(i & 15, 0x77),
    };
    for (const [k, id] of ids.entries()) lines.push(`${(t + k * 0.001).toFixed(4)},0,${id},0,${payload[id]}`);
  }
  const path = join(folder, name);
  writeFileSync(path, `${lines.join('\n')}\n`);
  return path;
}

function sheet(name: string, capture: string): string {
  const path = join(folder, name);
  writeFileSync(
    path,
    `form: cues/1\ncapture: ${capture}\ncues:\n  - { name: horn, start_s: 5, end_s: 7 }\n  - { name: horn, start_s: 20, end_s: 23 }\n  - { name: horn, start_s: 41, end_s: 42.5 }\n`,
  );
  return path;
}

const all = drive('all.csv', ['100', '200', '300']);
const cues = sheet('all.yaml', 'all.csv');

describe('find --cues and contrast', () => {
  test('the signal that followed a cue is printed first, and stands in findings/1 with its p-value', async () => {
    const { code, out } = await run('find', all, '--cues', cues);
    expect(code).toBe(EXIT.done);
    expect(out).toContain('horn: 3 times');
    expect(out).toMatch(/\n1\s+0 100 bit 20\s+value\s+1\.00/);
    expect(Math.max(...out.split('\n').map((l) => l.length))).toBeLessThanOrEqual(125);
    const form = JSON.parse((await run('find', all, '--cues', cues, '--json')).out);
    expect(form.cues.horn[0]).toMatchObject({ bus: 0, id: '100', start: 20, length: 1, rank: 1 });
    expect(form.cues.horn[0].pValue).toBeLessThan(0.05);
    expect(form.cueNotes.horn).toEqual({ repeats: 3, more: 0, open: null });
    expect(form.copies).toEqual([
      [expect.objectContaining({ id: '100', start: 0 }), expect.objectContaining({ id: '200', start: 8 })],
    ]);
  });

  test('a sheet of another recording, none at all and one that is not there are told in a sentence', async () => {
    const wrong = await run('find', all, '--cues', sheet('other.yaml', 'other.csv'));
    expect(wrong.code).toBe(EXIT.badInput);
    expect(wrong.err).toContain('"other.csv", which is not among those given');
    const none = await run('find', all, '--cues');
    expect(none.code).toBe(EXIT.badInput);
    expect(none.err).toContain('no cue sheet for');
    const absent = await run('find', all, '--cues', join(folder, 'gone.yaml'));
    expect(absent.code).toBe(EXIT.badInput);
    expect(absent.err).toContain('no such file');
    const references = await run('find', all, '--references');
    expect(references.code).toBe(EXIT.badInput);
    expect(references.err).toContain('lies in no build');
  });

  test('contrast tells what vanished, and what is too short to tell', async () => {
    const without = drive('without.csv', ['100', '200']);
    const { code, out } = await run('contrast', all, without);
    expect(code).toBe(EXIT.done);
    expect(out).toContain('0 300       vanished   seen 1,200 times');
    const short = drive('short.csv', ['100', '300'], 1);
    const form = JSON.parse((await run('contrast', short, without, '--json')).out);
    expect(form.form).toBe('contrast/1');
    const gone = form.differences.find((d: { id: string }) => d.id === '200');
    expect(gone).toMatchObject({ kind: 'appeared', ext: 0 });
  });
});
