/** Recordings of one car with their cue sheets: those given, or those of the build in which a recording lies. */
import { basename } from 'node:path';
import { loadBuild } from '../build/load.ts';
import type { CueSheet } from '../build/model.ts';
import { problemSentence } from '../build/problem.ts';
import { readCueSheet } from '../build/readCueSheet.ts';
import type { Capture } from '../capture/store.ts';
import type { CuedRecording } from '../findings/cues/index.ts';
import { buildAround } from './inputs.ts';

/** A sheet cannot be read, speaks of another recording, or there is none. */
export class CueSheetError extends Error {
  override readonly name = 'CueSheetError';
}

/**
 * `captures` in the order of `paths`. Recordings without a sheet are left out: nothing is known of what was done in them.
 * @throws CueSheetError
 */
export async function cuedRecordings(
  paths: readonly string[],
  captures: readonly Capture[],
  sheetPaths: readonly string[],
): Promise<CuedRecording[]> {
  const names = paths.map((p) => basename(p));
  const sheets = sheetPaths.length > 0 ? await given(sheetPaths, names) : await ofBuilds(paths);
  return captures.flatMap((capture, i): CuedRecording[] => {
    const mine = sheets.filter(
      (s) => s.path === paths[i] || (s.path === null && s.sheet.capture === names[i]),
    );
    if (mine.length === 0) return [];
    const cues = mine.flatMap(({ sheet }) =>
      sheet.cues.map(({ name, startS, endS, level }) => ({ name, startS, endS, level })),
    );
    return [{ name: names[i] as string, capture, cues }];
  });
}

interface Found {
  sheet: CueSheet;
  /** Recording that it belongs to; null where its name says so. */
  path: string | null;
}

async function given(sheetPaths: readonly string[], names: readonly string[]): Promise<Found[]> {
  const found: Found[] = [];
  for (const path of sheetPaths) {
    const { sheets, problems } = await readCueSheet(path, names.length === 1 ? (names[0] as string) : '');
    if (problems.length > 0)
      throw new CueSheetError(
        `cannot use the cue sheet:\n${problems.map((p) => `  ${problemSentence(p)}`).join('\n')}`,
      );
    for (const sheet of sheets) {
      if (!names.includes(sheet.capture))
        throw new CueSheetError(
          `${path} speaks of the recording "${sheet.capture}", which is not among those given; right would be ${names.join(' or ')} after "capture:"`,
        );
      found.push({ sheet, path: null });
    }
  }
  return found;
}

async function ofBuilds(paths: readonly string[]): Promise<Found[]> {
  const found: Found[] = [];
  for (const path of paths) {
    const folder = buildAround(path);
    const build = folder === null ? null : (await loadBuild(folder)).build;
    for (const sheet of build?.cueSheets ?? [])
      if (sheet.capture === basename(path)) found.push({ sheet, path });
  }
  return found;
}
