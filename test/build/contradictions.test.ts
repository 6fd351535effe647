import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { workedOut } from '../../src/build/cache/workedOut.ts';
import { writeCaptureFile } from '../../src/build/captureFile.ts';
import {
  type Contradiction,
  contradictionSentence,
  contradictionsIn,
} from '../../src/build/contradictions.ts';
import { loadBuild } from '../../src/build/load.ts';
import type { Build } from '../../src/build/model.ts';
import { retestAll } from '../../src/build/retestAll.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { folderWith, wagtail } from './folder.ts';

/** Message 0E5 of the build every `gapS`: an angle that turns, a counter, an exclusive-or, and a flag while `pressed`. */
interface Drive {
  gapS?: number;
  frames?: number;
  /** Raw values of the angle. */
  angle?: (k: number) => number;
  spoil?: (bytes: number[], k: number) => void;
  pressed?: (t: number) => boolean;
  length?: number;
}

function drive({ gapS = 0.01, frames = 4000, spoil, pressed, length = 8, ...rest }: Drive = {}): Capture {
  const angle = rest.angle ?? ((k) => Math.round(1500 * Math.sin(k / 300)));
  const builder = new CaptureBuilder();
  for (let k = 0; k < frames; k++) {
    const bytes = [angle(k) & 255, (angle(k) >> 8) & 255, 0, 0, pressed?.(k * gapS) ? 1 : 0, 0, k & 15, 0];
    bytes[7] = bytes.reduce((a, b) => a ^ b, 0);
    spoil?.(bytes, k);
    builder.add(k * gapS, 0, 0x0e5, 0, length, Uint8Array.from(bytes.slice(0, length)), 0, length);
  }
  return builder.finish();
}

const MORE = `    counter: {start: 48, length: 4}
    check: {start: 56, length: 8, algorithm: xor, covers: [0, 1, 2, 3, 4, 5, 6]}
    signals:
      - name: pedal
        start: 32
        length: 1
        byte_order: little
        evidence:
          - {capture: drive-1.csv, text: followed the cue, cue: pedal pressed}
`;

async function build(): Promise<Build> {
  const files = wagtail();
  const chassis = (files['dictionary/chassis.yaml'] as string).replace(
    /( {4}sender: Plover\n) {4}signals:\n/,
    `$1${MORE}`,
  );
  const loaded = await loadBuild(folderWith({ ...files, 'dictionary/chassis.yaml': chassis }));
  expect(loaded.problems).toEqual([]);
  return loaded.build as Build;
}

const against = async (made: Drive, cues: { name: string; startS: number; endS: number }[] = []) =>
  contradictionsIn(await build(), { name: 'drive-2.csv', capture: drive(made), cues });

const texts = (found: Contradiction[]) => found.map(contradictionSentence);

describe('a recording contradicts', () => {
  test('nothing where it agrees', async () => {
    expect(texts(await against({}))).toEqual([]);
  });

  test('a range: with the first value that lies outside', async () => {
    const found = await against({ angle: (k) => (k >= 300 && k < 310 ? 8000 : 100) });
    expect(texts(found)).toEqual([
      'bus chassis, message 0E5 steering_state, signal angle: accepted as −720 … 720 deg; in drive-2.csv 10 of 4,000 values lie outside, the first 800 deg at 3.00 s',
    ]);
    expect(found[0]?.place).toEqual({ start: 0, length: 16, selectorValue: null });
  });

  test('a check and a counter that fail, but not for a few lost frames', async () => {
    const lost = await against({
      spoil: (bytes, k) => {
        if (k % 200 !== 0) return;
        bytes[6] = 9;
        bytes[7] = bytes.slice(0, 7).reduce((a, b) => a ^ b, 0);
      },
    });
    expect(texts(lost)).toEqual([]);
    const spoilt = await against({
      spoil: (bytes, k) => bytes.splice(6, 2, k >= 2000 ? 3 : bytes[6]!, bytes[7]!),
    });
    expect(texts(spoilt)).toEqual([
      'bus chassis, message 0E5 steering_state, check: accepted as a check of every frame; in drive-2.csv 1,875 of 4,000 frames disagree, the first at 20.00 s',
      'bus chassis, message 0E5 steering_state, counter: accepted as a counter in steps of +1; in drive-2.csv 2,000 of 3,999 steps are others, the first at 20.00 s',
    ]);
  });

  test('a period', async () => {
    expect(texts(await against({ gapS: 0.02 }))).toEqual([
      'bus chassis, message 0E5 steering_state: accepted with a period of 10 ms; in drive-2.csv half of its gaps are longer than 20 ms, half shorter',
    ]);
  });

  test('a place that its frames do not have', async () => {
    const found = texts(await against({ length: 4 }));
    expect(found).toEqual([
      'bus chassis, message 0E5 steering_state, signal pedal: accepted at bit 32, 1 long; in drive-2.csv all 4,000 frames are too short for it',
    ]);
  });

  const windows = [3, 9, 14, 21, 30, 35].map((startS) => ({
    name: 'pedal pressed',
    startS,
    endS: startS + 2,
  }));
  const inside = (t: number) => windows.some(({ startS, endS }) => t >= startS && t < endS);

  test('a cue that moves the signal no longer, and not one that still does', async () => {
    expect(texts(await against({ pressed: inside }, windows))).toEqual([]);
    const still = texts(await against({ pressed: () => false }, windows));
    expect(still).toEqual([
      'bus chassis, message 0E5 steering_state, signal pedal: accepted as moved by “pedal pressed” in drive-1.csv; in drive-2.csv that was done 6 times and it never moved',
    ]);
    // Another thing, done by itself and as often; chance lets one or the other agree.
    const courses = [1, 2, 3, 4, 5, 6].map(
      (shift) => (t: number) => Math.sin(1.3 * shift + t * (0.5 + shift / 7)) > 0.6,
    );
    const others = (await Promise.all(courses.map((pressed) => against({ pressed }, windows)))).flatMap(
      texts,
    );
    expect(others.length).toBeGreaterThanOrEqual(3);
    for (const text of others)
      expect(text).toMatch(/that was done 6 times and it did not follow: .* in \d+ of 100 cases$/);
  });

  test('nothing by a cue that was done too few times to tell', async () => {
    expect(texts(await against({ pressed: () => false }, windows.slice(0, 2)))).toEqual([]);
  });
});

test('a build is tested recording by recording, and what was tested is not read again', async () => {
  const { folder } = await build();
  mkdirSync(join(folder, 'captures'));
  await writeCaptureFile(join(folder, 'captures/good.pcapng'), drive());
  await writeCaptureFile(join(folder, 'captures/odd.pcapng'), drive({ gapS: 0.02 }));
  writeFileSync(join(folder, 'captures/spoilt.pcapng'), 'no recording');
  const again = (await loadBuild(folder)).build as Build;
  const tested = await retestAll(again);
  expect(tested.captures).toEqual(['good.pcapng', 'odd.pcapng']);
  expect(tested.left.map(({ name }) => name)).toEqual(['spoilt.pcapng']);
  expect(tested.contradictions.map(({ capture, field }) => [capture, field])).toEqual([
    ['odd.pcapng', 'message'],
  ]);
  const read: string[] = [];
  const second = await retestAll(again, {
    read: async (name) => {
      read.push(name);
      throw new Error('not needed');
    },
  }).catch(() => null);
  // The spoilt one is asked for each time; it may have been put right without another name.
  expect(read).toEqual(['spoilt.pcapng']);
  expect(second).toBeNull();
});

describe('what was worked out', () => {
  const kind = { name: 'findings', sources: ['can'] };
  const value = { flips: Float64Array.of(0, 0.5), most: Number.POSITIVE_INFINITY, list: [1, null, 'a\nb'] };
  const failing = () => Promise.reject(new Error('made again'));

  test('comes back as it was, without being made again', async () => {
    const folder = folderWith({});
    await workedOut(folder, kind, 'k', async () => value);
    expect(await workedOut(folder, kind, 'k', failing)).toEqual(value);
    await expect(workedOut(folder, kind, 'other', failing)).rejects.toThrow('made again');
  });

  test('is made again where the file is damaged in any place', async () => {
    const folder = folderWith({});
    await workedOut(folder, kind, 'k', async () => value);
    const place = join(folder, '.cache/worked-out');
    const file = join(place, readdirSync(place)[0] as string);
    const text = readFileSync(file, 'utf8');
    for (let at = 0; at < text.length; at += 7) {
      writeFileSync(file, `${text.slice(0, at)}#${text.slice(at + 1)}`);
      if (text[at] === '#') continue;
      await expect(workedOut(folder, kind, 'k', failing)).rejects.toThrow('made again');
    }
    writeFileSync(file, text.slice(0, -10));
    await expect(workedOut(folder, kind, 'k', failing)).rejects.toThrow('made again');
  });
});
