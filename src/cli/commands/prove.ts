import { Command } from 'commander';
import { type ProofForm, saveProof } from '../../build/evidence.ts';
import { proveBuild } from '../../build/guardOf.ts';
import { EXIT } from '../exit.ts';
import { usableBuild } from '../inputs.ts';
import { printJson, printLine, printTable } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

export function prove(): Command {
  return new Command('prove')
    .description(
      "prove the guard's obligations for every input; a broken one comes with a run that breaks it",
    )
    .argument('<build>', 'folder of the build; the result is kept in its evidence/ folder')
    .option('--json', 'print the form proof/1')
    .option('--fresh', 'ask the solver everything anew; armable firmware asks for such a proof')
    .option(
      '--strength',
      `also change the guard in ${MUTANTS} small ways and see that each is found; takes minutes`,
    )
    .addHelpText('after', '\nExamples:\n  bywright prove demo\n  bywright prove demo --fresh --strength')
    .action(async (folder: string, options: { json?: boolean; fresh?: boolean; strength?: boolean }) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      const step = stage('Proving');
      const { form, counterexamples } = await proveBuild(build, {
        signal,
        verdicts: options.fresh ? 'none' : 'kept',
        ...(options.strength && { strength: { mutants: MUTANTS, seed: SEED } }),
        onProgress: (fraction, note) => step.update(`${Math.round(fraction * 100)} % ${note}`),
      });
      // Said before it is kept: a full disk shall not hide what a minute's work has shown.
      step.done(proofWords(form));
      const kept = await saveProof(build.folder, form, counterexamples);
      if (kept.obligations.some((o) => o.status !== 'proved')) process.exitCode = EXIT.notShown;
      if (options.json) return printJson(kept);
      printTable(
        ['status', 'obligation', 'what it says'],
        kept.obligations.map((o) => [STATUS[o.status], o.name, o.sentence]),
      );
      for (const o of kept.obligations) {
        if (o.status === 'proved') continue;
        printLine(`\n${STATUS[o.status]}: ${o.name}. ${o.note}`);
        if (o.counterexample) printLine(`  a run that breaks it: ${folder}/${o.counterexample}`);
      }
      if (kept.remembered) printLine(`\n${rememberedWords(kept.remembered)}`);
      if (kept.strength) printLine(`\n${strengthWords(kept.strength)}`);
      printLine('\nShown of the program, for every input; not of the board, the wiring or the car.');
    });
}

/** Of a guard's some hundreds of small changes; enough that a gap in the obligations would show. */
const MUTANTS = 150;
const SEED = 1;

function rememberedWords(count: number): string {
  return `${count} verdict${count === 1 ? ' was' : 's were'} kept from an earlier proof; --fresh asks the solver for all of them.`;
}

/** "Of 150 changed guards (seed 1) 130 break an obligation and 20 change nothing." */
export function strengthWords(s: NonNullable<ProofForm['strength']>): string {
  const open = s.undecided === 0 ? '' : `; ${s.undecided} could not be decided`;
  return `Of ${s.mutants} changed guards (seed ${s.seed}) ${s.refuted} break an obligation in a run and ${s.equivalent} are shown to change nothing${open}.`;
}

export const STATUS: Record<ProofForm['obligations'][number]['status'], string> = {
  proved: 'proved',
  failed: 'broken',
  notShown: 'not shown',
  vacuous: 'says nothing',
};

/** "66 of 67 proved, 1 broken" */
export function proofWords({ obligations }: ProofForm): string {
  const count = (status: ProofForm['obligations'][number]['status']) =>
    obligations.filter((o) => o.status === status).length;
  const others = (['failed', 'notShown', 'vacuous'] as const)
    .filter((status) => count(status) > 0)
    .map((status) => `, ${count(status)} ${STATUS[status]}`);
  return `${count('proved')} of ${obligations.length} obligations proved${others.join('')}`;
}
