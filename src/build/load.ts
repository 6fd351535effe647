/** Loads a build folder: the whole of it as plain data, and every problem of every file at once. */
import { readdir } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import { camelKeys } from '../dictionary/case.ts';
import { CHECKS } from './checks/index.ts';
import { type CueTable, readCueTables } from './cueCsv.ts';
import { codeOf, listFolder, readText, whole } from './disk.ts';
import { checkFields } from './fields.ts';
import {
  CAPTURES_FOLDER,
  FILE_KINDS,
  type FileContent,
  type FileKind,
  isRecording,
  NEEDED,
  type TEXT_FOLDERS,
  TOP_FILES,
} from './files.ts';
import type { Build, Problem } from './model.ts';
import { nearest } from './nearest.ts';
import { sortProblems } from './problem.ts';
import { readReferences } from './reference/read.ts';
import { parseYaml, type YamlFile } from './yamlFile.ts';

/** What the checks across files look at: each file's content with its positions. */
export interface Sources {
  /** By path relative to the build; files that are no YAML or do not fit their schema are in `broken` instead. */
  parsed: Map<string, YamlFile>;
  /** Paths of files that are there and cannot be used. */
  broken: Set<string>;
  /** Cue sheets in CSV, by path. */
  cueTables: Map<string, CueTable[]>;
}

/**
 * `build` is null where `build.yaml`, `buses.yaml` or `units.yaml` is missing or wrong; a wrong file of another kind is
 * left out of the build and told in `problems`. Never throws for what is in the folder.
 */
export async function loadBuild(folder: string): Promise<{ build: Build | null; problems: Problem[] }> {
  const root = resolve(folder);
  const top = await topProblems(root, folder);
  if (top.fatal) return { build: null, problems: top.problems };
  const loader = new Loader(root);
  const file = await loader.read('build', 'build.yaml');
  const buses = await loader.read('buses', 'buses.yaml');
  const units = await loader.read('units', 'units.yaml');
  const bridge = await loader.read('bridge', 'bridge.yaml');
  const guard = await loader.read('guard', 'guard.yaml');
  const dictionaries = await loader.readFolder('dictionary');
  const cueSheets = await loader.readFolder('cues');
  const captures = await listFolder(root, CAPTURES_FOLDER);
  const recordings = captures.names.filter(isRecording);
  const referenceFiles = (await loader.readFolder('reference')).map((r) => camelKeys(r));
  const referencePaths = [...loader.sources.parsed.keys()].filter((file) => file.startsWith('reference/'));
  const references = await readReferences(root, referenceFiles, referencePaths, loader.sources);
  const tables = await readCueTables(root, recordings);
  loader.sources.cueTables = tables.tables;
  const problems = [
    ...top.problems,
    ...loader.problems,
    ...captures.problems,
    ...references.problems,
    ...tables.problems,
  ];
  const order = [...TOP_FILES, ...loader.sources.parsed.keys(), ...tables.tables.keys()];
  if (file === null || buses === null || units === null)
    return { build: null, problems: sortProblems(problems, order) };
  const build: Build = {
    folder: root,
    file: camelKeys(file),
    buses: camelKeys(buses).buses,
    units: camelKeys(units).units,
    dictionaries: dictionaries.map((d) => camelKeys(d)),
    bridge: bridge === null ? null : camelKeys(bridge),
    guard: guard === null ? null : camelKeys(guard),
    cueSheets: [
      ...cueSheets.map((c) => camelKeys(c)),
      ...[...tables.tables.values()].flat().map(({ sheet }) => sheet),
    ],
    references: references.references,
    captures: recordings,
  };
  for (const check of CHECKS) problems.push(...check(build, loader.sources));
  return { build, problems: sortProblems(withoutRepeats(problems), order) };
}

class Loader {
  readonly sources: Sources = { parsed: new Map(), broken: new Set(), cueTables: new Map() };
  readonly problems: Problem[] = [];

  constructor(readonly root: string) {}

  async read<K extends FileKind>(kind: K, file: string): Promise<FileContent<K> | null> {
    const read = await readText(this.root, file);
    if (read.kind === 'missing') {
      if (NEEDED.includes(file))
        this.problems.push(whole(file, 'no such file', `this file with "form: ${FILE_KINDS[kind].form}"`));
      return null;
    }
    if (read.kind === 'problem') {
      this.problems.push(read.problem);
      this.sources.broken.add(file);
      return null;
    }
    const { parsed, problems } = parseYaml(file, read.bytes);
    this.problems.push(...problems);
    if (parsed === null || (parsed.data === undefined && problems.length > 0)) {
      this.sources.broken.add(file);
      return null;
    }
    const checked = checkFields(parsed, FILE_KINDS[kind].schema, FILE_KINDS[kind].form);
    this.problems.push(...checked.problems);
    // A field that stands twice leaves open which of the two is meant, so the file is not used either.
    if (checked.value === null || problems.length > 0) {
      this.sources.broken.add(file);
      return null;
    }
    this.sources.parsed.set(file, parsed);
    return checked.value as FileContent<K>;
  }

  async readFolder<K extends (typeof TEXT_FOLDERS)[number]>(kind: K): Promise<FileContent<K>[]> {
    const { names, problems } = await listFolder(this.root, kind);
    this.problems.push(...problems);
    const values: FileContent<K>[] = [];
    for (const name of names) {
      if (/\.ya?ml$/i.test(name) && !name.endsWith('.yaml'))
        this.problems.push(
          whole(`${kind}/${name}`, 'this ending, so that it is not read', 'the ending .yaml'),
        );
      if (!name.endsWith('.yaml')) continue;
      const value = await this.read(kind, `${kind}/${name}`);
      if (value !== null) values.push(value);
    }
    return values;
  }
}

/** Whether the folder is a build at all, and files at its top that nothing reads. */
async function topProblems(root: string, given: string): Promise<{ fatal: boolean; problems: Problem[] }> {
  const fatal = (found: string, expected: string) => ({
    fatal: true,
    problems: [whole(given, found, expected)],
  });
  let names: string[];
  try {
    names = await readdir(root);
  } catch (error) {
    const code = codeOf(error);
    if (code === 'ENOENT') return fatal('no such folder', 'the folder of a build');
    if (code === 'ENOTDIR') return fatal('a file', `the folder of a build, for example ${join(given, '..')}`);
    if (code === 'EACCES' || code === 'EPERM')
      return fatal('a folder that this user may not read', 'read permission for this user');
    return fatal(`a folder that cannot be read (${code})`, 'the folder of a build');
  }
  if (!TOP_FILES.some((file) => names.includes(file)))
    return fatal(
      'no build.yaml, buses.yaml or units.yaml',
      `a build (bywright new writes one)${names.includes(CAPTURES_FOLDER) ? '' : `; ${basename(root)} holds none of its files`}`,
    );
  const known: readonly string[] = TOP_FILES;
  const problems = names
    .filter((name) => /\.ya?ml$/i.test(name) && !name.startsWith('.') && !known.includes(name))
    .sort()
    .map((name) => {
      const near = nearest(name, known);
      const expected = near === null ? `one of ${known.join(', ')}, or another ending` : near;
      return whole(name, 'a name that nothing reads', expected);
    });
  return { fatal: false, problems };
}

/** Two rooms may see the same mistake; the first to say it is heard. */
function withoutRepeats(problems: Problem[]): Problem[] {
  const seen = new Set<string>();
  return problems.filter((p) => {
    const key = JSON.stringify([p.file, p.line, p.column, p.field, p.found]);
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}
