import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { folderWith, wagtail } from '../build/folder.ts';
import { BEHIND_S, movingCsv, receiverCsv, referenceYaml } from '../build/reference/drive.ts';
import { bywright, STACK_TRACE } from './bywright.ts';

const build = () =>
  folderWith({
    ...wagtail(),
    'captures/moving.csv': movingCsv(),
    'reference/roof.yaml': referenceYaml('file: receiver.csv'),
    'reference/receiver.csv': receiverCsv(),
    'cues/moving.csv': 'name,start_s,end_s,level,note\nhorn,2,3,,\n"brake, hard",1,2,40,\n',
  });

describe('align', () => {
  test('prints the offset and what it would write, and writes it only when asked', () => {
    const folder = build();
    const file = join(folder, 'reference/roof.yaml');
    const before = readFileSync(file, 'utf8');
    const seen = bywright('align', folder, 'moving.csv', 'satellite speed', '--signal', 'wheel_speed');
    expect(seen.code).toBe(0);
    expect(seen.out).toMatch(/offset +3\.\d+ s; in the middle of the overlap .* ± 0\.\d+ s/);
    expect(seen.out).toContain('Nothing was written. With --accept, reference/roof.yaml would say:');
    expect(readFileSync(file, 'utf8')).toBe(before);
    const kept = bywright(
      'align',
      folder,
      'moving.csv',
      'roof',
      '--signal',
      'chassis:0C4:7:16:big',
      '--accept',
      '--json',
    );
    expect(kept.code).toBe(0);
    const form = JSON.parse(kept.out);
    expect(form).toMatchObject({
      form: 'alignment/1',
      reference: 'satellite speed',
      found: true,
      accepted: true,
    });
    expect(form.offsetS).toBeCloseTo(BEHIND_S, 1);
    expect(form.slope).toBeCloseTo(0.01, 3);
    expect(readFileSync(file, 'utf8')).toMatch(/clock:\n {2}offset_s: 3\.\d/);
    const rows = bywright(
      'query',
      folder,
      'select clock, min(t) as t, min(own_t) as own from "references" group by all',
      '--json',
    );
    const [[clock, t, own]] = JSON.parse(rows.out).rows;
    expect([clock, t, own]).toEqual(['accepted', expect.closeTo(BEHIND_S, 1), 0]);
  });

  test('says in one sentence what is not there, and exits with 1 where no offset is found', () => {
    const folder = build();
    const slips: [string[], number, RegExp][] = [
      [
        ['moving.csv', 'cellar', '--signal', 'wheel_speed'],
        2,
        /no reference channel "cellar"; it has: satellite speed/,
      ],
      [['gone.csv', 'roof', '--signal', 'wheel_speed'], 2, /gone\.csv has no reference channel/],
      [['moving.csv', 'roof', '--signal', 'wheel_speed', '--near', 'soon'], 2, /a number of seconds/],
      [
        ['moving.csv', 'roof', '--signal', 'chassis:0C4:16:8:little'],
        1,
        /No alignment: the signal stands at 0/,
      ],
    ];
    for (const [args, code, words] of slips) {
      const ran = bywright('align', folder, ...args);
      expect([ran.code, ran.out + ran.err]).toEqual([code, expect.stringMatching(words)]);
      expect(ran.err).not.toMatch(STACK_TRACE);
    }
  });
});

test('export writes the cues of a capture as CSV, in the order of time', () => {
  const folder = build();
  const out = join(folder, 'cues-out.csv');
  const ran = bywright('export', folder, 'moving.csv', out, '--cues');
  expect([ran.code, ran.out]).toEqual([0, `${out}: 2 cues\n`]);
  expect(readFileSync(out, 'utf8')).toBe(
    'name,start_s,end_s,level,note\n"brake, hard",1,2,40,\nhorn,2,3,,\n',
  );
  expect(bywright('export', folder, 'moving.csv', join(folder, 'cues/moving.csv'), '--cues').code).toBe(2);
});
