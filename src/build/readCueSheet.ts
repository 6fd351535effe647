/** One cue sheet by its path, YAML or CSV, whether or not it lies in a build. */
import { basename, dirname } from 'node:path';
import { camelKeys } from '../dictionary/case.ts';
import { parseCueCsv } from './cueCsv.ts';
import { readText, whole } from './disk.ts';
import { checkFields } from './fields.ts';
import type { CueSheet, Problem } from './model.ts';
import { cueSheetSchema } from './schema.ts';
import { parseYaml } from './yamlFile.ts';

/** `capture` is the recording that a CSV speaks of where it names none. Problems are told with file, line and column. */
export async function readCueSheet(
  path: string,
  capture: string,
): Promise<{ sheets: CueSheet[]; problems: Problem[] }> {
  const read = await readText(dirname(path), basename(path));
  if (read.kind === 'missing')
    return { sheets: [], problems: [whole(path, 'no such file', 'a cue sheet in YAML or CSV')] };
  if (read.kind === 'problem') return { sheets: [], problems: [{ ...read.problem, file: path }] };
  if (/\.csv$/i.test(path)) {
    const { tables, problems } = parseCueCsv(path, new TextDecoder('utf-8').decode(read.bytes), capture);
    return { sheets: tables.map((t) => t.sheet), problems };
  }
  const { parsed, problems } = parseYaml(path, read.bytes);
  if (parsed === null || (parsed.data === undefined && problems.length > 0)) return { sheets: [], problems };
  const checked = checkFields(parsed, cueSheetSchema, 'cues/1');
  return {
    sheets: checked.value === null ? [] : [camelKeys(checked.value)],
    problems: [...problems, ...checked.problems],
  };
}
