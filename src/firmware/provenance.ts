/** Where a firmware project comes from, and whether it may ever move anything. */
import { createHash } from 'node:crypto';
import type { Gateway } from '../bridge/gateway.ts';
import { programHash } from '../logic/hash.ts';

/** What a proof said of one obligation. */
export interface ObligationStatus {
  name: string;
  /** What must never happen or always hold, as a sentence. */
  sentence: string;
  status: 'proved' | 'failed' | 'notShown' | 'vacuous';
}

/** The proof of one program of the gateway. */
export interface ProofStatus {
  /** Name of the program, and the hash of the very program that was proved. */
  program: string;
  programHash: string;
  /** Verdicts that were kept from an earlier proof and not asked of the solver again; without it none. */
  remembered?: number;
  obligations: ObligationStatus[];
}

export interface Provenance {
  /** Name and version of the tool. */
  tool: string;
  /** Title of the build and hash of its files. */
  title: string;
  buildHash: string;
  proofs: ProofStatus[];
}

/**
 * What stands against an armable project, one sentence each; empty where nothing does. Every guard must have a proof,
 * every proof of a program of this gateway must be of this very program, every verdict in it asked of the solver for it,
 * and every obligation in them must be proved.
 */
export function armingRefusals(gateway: Gateway, provenance: Provenance): string[] {
  const guards = gateway.stages.filter((stage) => stage.role === 'guard');
  if (guards.length === 0) return ['the gateway has no guard, so there is nothing that could be armed'];
  const missing = guards.flatMap(({ program }) => {
    const proof = provenance.proofs.find((p) => p.program === program.name);
    if (!proof) return [`there is no proof of ${program.name}; prove it first`];
    return proof.obligations.length === 0 ? [`the proof of ${program.name} holds no obligation`] : [];
  });
  const programs = new Map(gateway.stages.map(({ program }) => [program.name, program]));
  const unproved = provenance.proofs.flatMap((proof) => {
    const program = programs.get(proof.program);
    if (!program) return [];
    if (proof.programHash !== programHash(program))
      return [`the proof of ${program.name} is of another version of it; prove this one`];
    const kept = proof.remembered
      ? [
          `the proof of ${program.name} rests on verdicts kept from an earlier one (${proof.remembered}); prove it with --fresh`,
        ]
      : [];
    const open = proof.obligations.filter((o) => o.status !== 'proved');
    return [
      ...kept,
      ...open.map(
        (o) => `obligation ${o.name} of ${program.name} is ${STATUS_WORDS[o.status]}: ${o.sentence}`,
      ),
    ];
  });
  return [...missing, ...unproved];
}

export const STATUS_WORDS: Record<ObligationStatus['status'], string> = {
  proved: 'proved',
  failed: 'refuted',
  notShown: 'not shown',
  vacuous: 'proved only because its case never occurs',
};

export function sha256(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}
