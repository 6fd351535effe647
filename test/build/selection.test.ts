import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readCaptureFile, writeCaptureFile } from '../../src/build/captureFile.ts';
import { FILE_FORMATS } from '../../src/build/fileFormats.ts';
import { loadBuild } from '../../src/build/load.ts';
import type { Build } from '../../src/build/model.ts';
import { type Selection, selectIn } from '../../src/build/selection.ts';
import { FLAG, formatId } from '../../src/can/frame.ts';
import { FORMATS } from '../../src/capture/formats/list.ts';
import { captureOf, type Frame, frame, framesArbitrary, framesOf } from '../capture/frames.ts';
import { folderWith, wagtail } from './folder.ts';

const CUES = `form: cues/1
capture: a.csv
cues:
  - {name: brake, start_s: 1, end_s: 2}
  - {name: brake, start_s: 4, end_s: 4.5}
  - {name: idle, start_s: 1.5, end_s: 3}
`;

/** Loaded once: its captures are handed in, so that its folder may be gone. */
let loaded: Promise<Build> | null = null;
function wagtailBuild(): Promise<Build> {
  loaded ??= freshBuild();
  return loaded;
}

async function freshBuild(): Promise<Build> {
  const folder = folderWith({ ...wagtail(), 'cues/a.yaml': CUES, 'captures/a.csv': '' });
  return (await loadBuild(folder)).build as Build;
}

/** One frame each 100 ms for 6 s, on two buses. */
const FRAMES = Array.from({ length: 60 }, (_, n) =>
  frame(n * 100_000_000, n % 3 ? 0x1a0 : 0x0cf00400, [n], { bus: n % 2, flags: n % 3 ? 0 : FLAG.extended }),
);
const SECOND = 1_000_000_000n;

describe('a selection of a capture', () => {
  const kept: [string, Selection, (f: Frame) => boolean][] = [
    ['nothing named', {}, () => true],
    ['a bus by name', { buses: ['control'] }, (f) => f.bus === 1],
    ['buses by number and name', { buses: ['1', 'chassis'] }, () => true],
    ['identifiers', { ids: ['1a0'] }, (f) => f.id === 0x1a0],
    ['29-bit identifiers', { ids: ['0x0CF00400', '7FF'] }, (f) => f.id === 0x0cf00400],
    ['a time', { fromS: 2, toS: 2.5 }, (f) => f.ns >= 2n * SECOND && f.ns < (5n * SECOND) / 2n],
    [
      'a cue that came twice',
      { cues: ['brake'] },
      (f) => (f.ns >= SECOND && f.ns < 2n * SECOND) || (f.ns >= 4n * SECOND && f.ns < (9n * SECOND) / 2n),
    ],
    ['cues that overlap', { cues: ['idle', 'brake'], toS: 4 }, (f) => f.ns >= SECOND && f.ns < 3n * SECOND],
    [
      'all at once',
      { buses: ['chassis'], ids: ['1A0'], fromS: 1, cues: ['brake'] },
      (f) => f.bus === 0 && f.id === 0x1a0 && [10n, 14n, 16n, 40n, 44n].includes(f.ns / 100_000_000n),
    ],
  ];
  test.each(kept)('%s keeps those frames and no others, in order', async (_, selection, keeps) => {
    const chosen = selectIn(await wagtailBuild(), 'a.csv', captureOf(FRAMES), selection);
    expect(framesOf(chosen)).toEqual(FRAMES.filter(keeps));
  });

  const refused: [Selection, RegExp][] = [
    [{ buses: ['roof'] }, /^There is no bus "roof": the build has chassis \(0\), control \(1\)\.$/],
    [{ buses: ['300'] }, /^There is no bus "300"/],
    [{ ids: ['800'] }, /^"800" is no identifier: write it in hex with 3 digits/],
    [{ ids: ['18FEF1'] }, /8 digits for 29 bits \(up to 1FFFFFFF\), for this one 0018FEF1\.$/],
    [{ ids: ['speed'] }, /^"speed" is no identifier/],
    [{ cues: ['horn'] }, /^a\.csv has no cue "horn": its cue sheet has brake, idle\.$/],
    [{ fromS: 3, toS: 3 }, /^From 3 s to 3 s is no stretch of time/],
    [
      { fromS: 99 },
      /^No frame of a\.csv fits: it holds 60 frames from 0\.000 s to 5\.900 s on buses chassis, control; nothing was written\.$/,
    ],
  ];
  test.each(refused)('%j is refused in one sentence', async (selection, words) => {
    const build = await wagtailBuild();
    expect(() => selectIn(build, 'a.csv', captureOf(FRAMES), selection)).toThrow(words);
    if (selection.cues)
      expect(() => selectIn(build, 'b.csv', captureOf(FRAMES), selection)).toThrow('no cue sheet');
  });

  test('in every writable format a selection is read back equal', async () => {
    const build = await freshBuild();
    const formats = [...FORMATS.filter((f) => f.write), ...FILE_FORMATS];
    expect(formats.map((f) => f.name)).toEqual(expect.arrayContaining(['pcap', 'pcapng', 'text', 'parquet']));
    await fc.assert(
      fc.asyncProperty(framesArbitrary('one'), fc.nat({ max: 39 }), async (frames, which) => {
        const one = frames[which % frames.length] as Frame;
        const extended = (one.flags & FLAG.extended) !== 0;
        if ((one.flags & FLAG.error) !== 0) return;
        const chosen = selectIn(build, 'a.csv', captureOf(frames), { ids: [formatId(one.id, extended)] });
        const wanted = frames.filter((f) => f.id === one.id && (f.flags & 1) === (one.flags & 1));
        for (const { name, extensions } of formats) {
          const path = join(build.folder, `out${extensions[0]}`);
          await writeCaptureFile(path, chosen);
          const { capture, format } = await readCaptureFile(path, { format: name });
          expect([format, framesOf(capture)]).toEqual([name, wanted]);
        }
      }),
      { numRuns: 10 },
    );
  });
});
