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
    .addHelpText('after', '\nExample:\n  bywright prove demo')
    .action(async (folder: string, options: { json?: boolean }) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      const step = stage('Proving');
      const { form, counterexamples } = await proveBuild(build, {
        signal,
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
      printLine('\nShown of the program, for every input; not of the board, the wiring or the car.');
    });
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
