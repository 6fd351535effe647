import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import { loadBuild } from '../../../src/build/load.ts';
import { problemSentence } from '../../../src/build/problem.ts';
import { acceptClock, alignIn, clockEntry, referenceNamed } from '../../../src/build/reference/accept.ts';
import { captureTimes, clockOf } from '../../../src/build/reference/clock.ts';
import { signalNamed } from '../../../src/build/reference/signal.ts';
import { folderWith, wagtail } from '../folder.ts';
import { BEHIND_S, movingCsv, receiverCsv, referenceYaml, speedAt } from './drive.ts';

const yaml = referenceYaml;
const receiver = receiverCsv();
const build = (
  reference: Record<string, string>,
  captures: Record<string, string> = { 'captures/moving.csv': movingCsv() },
) => folderWith({ ...wagtail(), ...captures, ...reference });
const told = async (folder: string) =>
  (await loadBuild(folder)).problems.map((p) => `${p.weight ?? 'problem'} ${problemSentence(p)}`);

describe('reference channels of a build', () => {
  test('are read in the unit asked for, and typed points as they stand', async () => {
    const { build: loaded, problems } = await loadBuild(
      build({
        'reference/a.yaml': yaml('file: receiver.csv', 'column: speed'),
        'reference/receiver.csv': receiver,
        'reference/b.yaml': yaml('points: [[0, 1.5], [12, 2]]').replace('satellite speed', 'gauge'),
      }),
    );
    expect(problems).toEqual([]);
    const [speed, gauge] = loaded!.references;
    expect(speed!.series!.unit).toBe('km/h');
    expect(speed!.series!.value[0]).toBeCloseTo(speedAt(BEHIND_S), 0);
    expect([...gauge!.series!.timeS, ...gauge!.series!.value]).toEqual([0, 12, 1.5, 2]);
    expect(clockOf(speed!, 0n).state).toBe('unknown');
    expect(clockOf(gauge!, 0n)).toEqual({ state: 'typed', offsetS: 0, driftPpm: 0 });
  });

  test('without an accepted clock stand where their dates put them', async () => {
    const { build: loaded } = await loadBuild(
      build({
        'reference/a.yaml': yaml('file: a.csv'),
        'reference/a.csv': 'date,speed [km/h]\n2026-05-12T09:30:02Z,1\n2026-05-12T09:30:03Z,2\n',
      }),
    );
    const clock = clockOf(loaded!.references[0]!, BigInt(Date.UTC(2026, 4, 12, 9, 30)) * 1_000_000n);
    expect(clock.state).toBe('dates');
    expect([...captureTimes(loaded!.references[0]!.series!.timeS, clock)]).toEqual([2, 3]);
  });

  test.each([
    [
      { 'reference/a.yaml': yaml('file: gone.csv') },
      'problem reference/a.yaml:5:7: file: found "gone.csv", which is not in reference/; expected a file in reference/.',
    ],
    [
      { 'reference/a.yaml': yaml('file: ../build.yaml') },
      'problem reference/a.yaml:5:7: file: found "../build.yaml"; expected the name of a file in reference/, without folders.',
    ],
    [
      { 'reference/a.yaml': yaml('file: r.csv').replace('km/h', 'bar'), 'reference/r.csv': receiver },
      'problem reference/a.yaml:3:7: unit: found "bar", while r.csv holds m/s; expected m/s, or another unit of the same quantity.',
    ],
    [
      { 'reference/a.yaml': yaml('file: r.csv', 'column: pressure'), 'reference/r.csv': receiver },
      'problem reference/a.yaml:6:9: column: found "pressure"; expected a column of r.csv: speed.',
    ],
    [
      { 'reference/a.yaml': yaml('points: [[0, 1], [5, 2], [5, 3]]') },
      'problem reference/a.yaml:5:26: points[2]: found the time 5 s a second time; expected times that rise: more than 5 s.',
    ],
    [
      { 'reference/a.yaml': yaml('points: [[0, 1]]').replace('moving.csv', 'moving.cvs') },
      'problem reference/a.yaml:4:10: capture: found "moving.cvs", which is not there; expected "moving.csv", or another file in captures/.',
    ],
    [
      { 'reference/a.yaml': yaml() },
      'problem reference/a.yaml:2:7: name: found a channel without data; expected "file" (CSV or GPX in reference/) or "points" ([time_s, value] each).',
    ],
    [
      { 'reference/a.yaml': yaml('file: r.csv'), 'reference/r.csv': 't [s],speed [km/h]\n0,1\n2,1\n1,1\n' },
      'caution reference/r.csv:4:1: found the time "1", before that of the row above; expected times that rise; the row is left out.',
    ],
    [
      { 'reference/a.yaml': yaml('file: r.csv'), 'reference/r.csv': 'x,speed [km/h]\n0,1\n10,1\n20,1\n' },
      'caution reference/a.yaml:5:7: file: found time in ms',
    ],
    [{ 'reference/a.yaml': yaml('points: [[0, 1, 2]]') }, 'problem reference/a.yaml:5'],
  ])('tell what is wrong with file, line and remedy: %#', async (files, sentence) => {
    const problems = await told(build(files as Record<string, string>));
    expect(problems.filter((p) => p.startsWith(sentence))).toHaveLength(1);
    expect(problems).toHaveLength(1);
  });

  test('an accepted clock goes into the file and leaves its comments', async () => {
    const folder = build({
      'reference/a.yaml': `# from the roof\n${yaml('file: receiver.csv   # 10 a second')}`,
      'reference/receiver.csv': receiver,
    });
    const { build: loaded } = await loadBuild(folder);
    const reference = referenceNamed(loaded!, 'moving.csv', 'satellite speed');
    const { capture } = await readCaptureFile(join(folder, 'captures/moving.csv'));
    const { result, signal } = alignIn(loaded!, capture, reference, 'wheel_speed');
    if ('reason' in result) throw new Error(result.reason);
    expect(signal).toBe('chassis wheel_speed speed');
    expect(result.offsetS).toBeCloseTo(3.2, 1);
    expect(result.slope).toBeCloseTo(1, 2);
    await acceptClock(folder, reference, clockEntry(result, signal, '2026-05-12T12:00:00Z'));
    const text = readFileSync(join(folder, 'reference/a.yaml'), 'utf8');
    expect(text).toContain('# from the roof');
    expect(text).toContain('# 10 a second');
    const again = await loadBuild(folder);
    expect(again.problems).toEqual([]);
    expect(clockOf(again.build!.references[0]!, 0n)).toMatchObject({ state: 'accepted' });
    expect(again.build!.references[0]!.file.clock!.offsetS).toBeCloseTo(3.2, 1);
  });

  test('a signal is named by words or by its bits', async () => {
    const folder = build({});
    const { build: loaded } = await loadBuild(folder);
    const { capture } = await readCaptureFile(join(folder, 'captures/moving.csv'));
    const named = signalNamed(loaded!, 'chassis wheel_speed speed').series(capture);
    const raw = signalNamed(loaded!, 'chassis:0C4:7:16:big').series(capture);
    expect(raw.timeS).toEqual(named.timeS);
    expect(raw.value[5]! * 0.01).toBeCloseTo(named.value[5]!, 9);
    expect(() => signalNamed(loaded!, 'speed')).toThrow(/fits 2 signals/);
    expect(() => signalNamed(loaded!, 'altitude')).toThrow(
      /no accepted signal holds "altitude"; there are: /,
    );
    expect(() => signalNamed(loaded!, 'chasis:0C4:7:16:big')).toThrow(/there is no bus "chasis"/);
    expect(() => signalNamed(loaded!, 'chassis:0C4:7:16')).toThrow(/bus:ID:start:length:order/);
    expect(() => referenceNamed(loaded!, 'moving.csv', 'x')).toThrow(/has no reference channel/);
  });
});
