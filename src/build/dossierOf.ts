/** Gathers what the dossier prints from a build's folder. */
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { type DossierBudget, type DossierFile, type DossierInput, dossierHtml } from '../dossier/index.ts';
import { toBudgetForm } from '../guard/budget/margin.ts';
import { loadCounterexamples, loadProof } from './evidence.ts';
import { fileHash } from './fileHash.ts';
import { CAPTURES_FOLDER, EVIDENCE_FOLDER, isRecording, TEXT_FOLDERS, TOP_FILES } from './files.ts';
import { tableCheckOf } from './guardOf.ts';
import { loadBuild } from './load.ts';
import type { Build, Problem } from './model.ts';
import { problemSentence } from './problem.ts';
import { buildRevision } from './revision.ts';
import { toolVersion } from './version.ts';

export interface DossierParts {
  build: Build;
  problems: Problem[];
  budget: DossierBudget | null;
  budgetError: string | null;
  /** When it is made. */
  now: Date;
  /** SHA-256 of a file in hex; default reads it whole. */
  hash?: (path: string) => Promise<string>;
}

/** Reads proof, play-backs and hashes from the disk; everything else is handed in. */
export async function dossierOf({
  build,
  problems,
  budget,
  budgetError,
  now,
  hash = fileHash,
}: DossierParts): Promise<DossierInput> {
  const { folder, file } = build;
  const kept = await loadProof(folder, build);
  return {
    title: file.title,
    note: file.note ?? null,
    stage: file.stage,
    revision: await buildRevision(folder),
    made: now.toISOString(),
    version: toolVersion(),
    host: file.host,
    buses: build.buses,
    units: build.units,
    dictionaries: build.dictionaries,
    bridge: build.bridge,
    guard: build.guard,
    budget,
    budgetError,
    proof: kept === null ? null : { ...kept.form, stale: kept.stale },
    counterexamples: kept === null ? [] : await loadCounterexamples(folder, kept.form),
    problems: problems.map((p) => `${p.weight === 'caution' ? 'Caution: ' : ''}${problemSentence(p)}`),
    files: await hashedFiles(folder, hash),
  };
}

/**
 * The dossier of the build in `folder` as HTML. The budget is computed anew; the proof is the kept one.
 * @throws NoBuildError where the build cannot be read at all.
 */
export async function dossierText(folder: string, now: Date): Promise<string> {
  const { build, problems } = await loadBuild(folder);
  if (build === null) {
    throw new NoBuildError(
      `${folder}: cannot be read as a build\n${problems.map((p) => `  ${problemSentence(p)}`).join('\n')}`,
    );
  }
  return dossierHtml(await dossierOf({ build, problems, ...budgetRows(build), now }));
}

/** The folder holds no build that can be read; the message lists why. */
export class NoBuildError extends Error {
  override name = 'NoBuildError';
}

function budgetRows(build: Build): Pick<DossierParts, 'budget' | 'budgetError'> {
  if (build.guard === null) return { budget: null, budgetError: null };
  try {
    return { budget: toBudgetForm(tableCheckOf(build)), budgetError: null };
  } catch (error) {
    return { budget: null, budgetError: (error as Error).message };
  }
}

const WHAT: Record<string, string> = {
  dictionary: 'dictionary',
  cues: 'cue sheet',
  reference: 'reference channel',
  [CAPTURES_FOLDER]: 'capture',
  [EVIDENCE_FOLDER]: 'evidence',
};

async function hashedFiles(folder: string, hash: (path: string) => Promise<string>): Promise<DossierFile[]> {
  const files: { file: string; what: string }[] = TOP_FILES.map((file) => ({ file, what: 'text file' }));
  for (const name of [...TEXT_FOLDERS, CAPTURES_FOLDER, EVIDENCE_FOLDER]) {
    const entries = await readdir(join(folder, name), { withFileTypes: true }).catch(() => []);
    const names = entries.filter((e) => e.isFile() && isRecording(e.name)).map((e) => e.name);
    files.push(...names.sort().map((entry) => ({ file: `${name}/${entry}`, what: WHAT[name] as string })));
  }
  const hashed: DossierFile[] = [];
  for (const { file, what } of files) {
    const path = join(folder, file);
    const found = await stat(path).catch(() => null);
    if (found?.isFile()) hashed.push({ file, what, bytes: found.size, sha256: await hash(path) });
  }
  return hashed;
}
