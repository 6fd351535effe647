/** Evidence kept in the build: the last proof of the guard and the play-backs of what fails, under `evidence/`. */
import { createHash } from 'node:crypto';
import { mkdir, readdir, readFile, unlink } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { bindGuard } from '../guard/binding.ts';
import { programHash } from '../logic/hash.ts';
import { codeOf } from './disk.ts';
import { EVIDENCE_FOLDER } from './files.ts';
import { stepOf } from './gatewayOf.ts';
import type { Build } from './model.ts';
import { contentHash, saveText } from './save.ts';

export const PROOF_FILE = 'proof.json';

/** `proof/1`, as it is kept and printed. */
export const proofSchema = z.object({
  form: z.literal('proof/1'),
  /** Name of the program in the gateway, and `programHash` of the very program that was proved. */
  program: z.string(),
  hash: z.string(),
  /** When, ISO 8601 UTC. */
  at: z.string(),
  /** Verdicts that were not asked of the solver but kept from an earlier proof; without it none. */
  remembered: z.int().positive().optional(),
  /** How sharp the obligations are (`Strength`), where that was measured. */
  strength: z
    .object({
      mutants: z.int(),
      refuted: z.int(),
      equivalent: z.int(),
      undecided: z.int(),
      seed: z.int(),
    })
    .optional(),
  obligations: z.array(
    z.object({
      name: z.string(),
      sentence: z.string(),
      status: z.enum(['proved', 'failed', 'notShown', 'vacuous']),
      seconds: z.number(),
      /** Hash of the obligation and of the part of the program that it reads. */
      hash: z.string(),
      /** Path relative to the build of the play-back that breaks it; null where there is none. */
      counterexample: z.string().nullable(),
      /** Why it is not shown; empty otherwise. */
      note: z.string(),
    }),
  ),
});

/** `counterexample/1`: one column per value over the steps of the play-back from switching on. */
export const counterexampleSchema = z.object({
  form: z.literal('counterexample/1'),
  obligation: z.string(),
  sentence: z.string(),
  stepMs: z.number(),
  brokenAtStep: z.int(),
  columns: z.array(
    z.object({
      name: z.string(),
      kind: z.enum(['input', 'state', 'value', 'output']),
      note: z.string(),
      values: z.array(z.number()),
    }),
  ),
});

export type ProofForm = z.output<typeof proofSchema>;
export type CounterexampleForm = z.output<typeof counterexampleSchema>;

/** A kept proof; `stale` says that the guard of today is another program than the one that was proved. */
export interface KeptProof {
  form: ProofForm;
  stale: boolean;
}

/**
 * Replaces the kept proof. Play-backs are written first and old ones removed last, so that the proof never names one
 * that is not there. Throws `SaveError` or `LockError`.
 */
export async function saveProof(
  folder: string,
  proof: ProofForm,
  counterexamples: readonly CounterexampleForm[],
): Promise<ProofForm> {
  await mkdir(join(folder, EVIDENCE_FOLDER), { recursive: true });
  const fileOf = new Map<string, string>();
  for (const example of counterexamples) {
    const text = `${JSON.stringify(example)}\n`;
    const name = `counterexample-${slug(example.obligation)}-${contentHash(text).slice(0, 8)}.json`;
    await put(folder, name, text);
    fileOf.set(example.obligation, `${EVIDENCE_FOLDER}/${name}`);
  }
  const form: ProofForm = {
    ...proof,
    obligations: proof.obligations.map((o) => ({ ...o, counterexample: fileOf.get(o.name) ?? null })),
  };
  await put(folder, PROOF_FILE, `${JSON.stringify(form, null, 1)}\n`);
  const kept = new Set([...fileOf.values()]);
  for (const name of await readdir(join(folder, EVIDENCE_FOLDER)))
    if (/^counterexample-.*\.json$/.test(name) && !kept.has(`${EVIDENCE_FOLDER}/${name}`))
      await unlink(join(folder, EVIDENCE_FOLDER, name)).catch(() => undefined);
  return form;
}

/** The kept proof, null where there is none or the file is no proof; a proof counts only as far as it can be read. */
export async function loadProof(folder: string, build: Build | null): Promise<KeptProof | null> {
  const form = await readForm(join(folder, EVIDENCE_FOLDER, PROOF_FILE), proofSchema);
  if (form === null) return null;
  return { form, stale: build === null || guardHash(build) !== form.hash };
}

/** The play-backs that a proof names, as far as they are there. */
export async function loadCounterexamples(folder: string, proof: ProofForm): Promise<CounterexampleForm[]> {
  const files = proof.obligations.flatMap((o) => (o.counterexample === null ? [] : [o.counterexample]));
  const examples: CounterexampleForm[] = [];
  for (const file of files) {
    if (!/^evidence\/[\w.-]+\.json$/.test(file)) continue;
    const example = await readForm(join(folder, file), counterexampleSchema);
    if (example !== null) examples.push(example);
  }
  return examples;
}

/** `programHash` of the guard as it is today; null where the build has none, or one that cannot be built. */
export function guardHash(build: Build): string | null {
  if (build.guard === null) return null;
  try {
    return programHash(bindGuard(build.guard, build.dictionaries, stepOf(build)).stage.program);
  } catch (error) {
    if (error instanceof Error && ['LogicError', 'BridgeError'].includes(error.name)) return null;
    throw error;
  }
}

async function put(folder: string, name: string, text: string): Promise<void> {
  const before = await readFile(join(folder, EVIDENCE_FOLDER, name)).catch((error) => {
    if (codeOf(error) === 'ENOENT') return null;
    throw error;
  });
  await saveText(folder, `${EVIDENCE_FOLDER}/${name}`, text, before === null ? null : contentHash(before));
}

async function readForm<S extends z.ZodType>(path: string, schema: S): Promise<z.output<S> | null> {
  try {
    const result = schema.safeParse(JSON.parse(await readFile(path, 'utf8')));
    return result.success ? result.data : null;
  } catch {
    return null;
  }
}

function slug(name: string): string {
  const plain = name
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
  return plain.slice(0, 60) || createHash('sha256').update(name).digest('hex').slice(0, 8);
}
