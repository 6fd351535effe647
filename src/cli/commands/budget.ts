import { Command, InvalidArgumentError } from 'commander';
import { proposalOf, tableCheckOf } from '../../build/guardOf.ts';
import { type ChannelCheck, toBudgetForm } from '../../guard/budget/margin.ts';
import type { Proposal } from '../../guard/budget/propose.ts';
import { EXIT } from '../exit.ts';
import { usableBuild } from '../inputs.ts';
import { printJson, printLine, printTable } from '../print.ts';

export function budget(): Command {
  return new Command('budget')
    .description(
      'the largest level and slew that leave the driver time, over speed, beside the tables of the guard',
    )
    .argument('<build>', 'folder of the build')
    .option(
      '--propose <percent>',
      'print tables that keep this margin to the budget; nothing is written',
      percent,
    )
    .option('--wider', 'with --propose: up to the budget, even where today’s tables allow less')
    .option('--json', 'print the form budget/1')
    .addHelpText('after', '\nExample:\n  bywright budget demo\n  bywright budget demo --propose 25')
    .action(async (folder: string, options: { propose?: number; wider?: boolean; json?: boolean }) => {
      const build = await usableBuild(folder);
      const check = tableCheckOf(build);
      if (check.channels.some((c) => c.leastMargin < 0) || check.missing.length > 0)
        process.exitCode = EXIT.notShown;
      const proposals =
        options.propose === undefined
          ? null
          : proposalOf(build, {
              margin: options.propose / 100,
              wider: options.wider ? 'up to the budget' : 'never',
            });
      if (options.json) return printJson({ ...toBudgetForm(check), ...(proposals && { proposals }) });
      for (const channel of check.channels) printChannel(channel);
      for (const { channel, why } of check.missing) printLine(`\n${channel}: no budget, because ${why}.`);
      printTerms(build.guard!.budget);
      if (proposals) printProposals(proposals, options.propose as number);
    });
}

function percent(text: string): number {
  const value = Number(text);
  if (!(value >= 0 && value < 100)) throw new InvalidArgumentError('a margin in per cent, 0 … less than 100');
  return value;
}

function printChannel({
  channel,
  quantity,
  unit,
  rateUnit,
  rows,
  leastMargin,
  leastAtMps,
}: ChannelCheck): void {
  printLine(`\n${channel}: ${quantity}`);
  const end = rows.at(-1)?.speedMps ?? 0;
  const shown = rows.filter((r) => r.speedMps === Math.round(r.speedMps) || r.speedMps === end);
  printTable(
    [
      'm/s',
      'km/h',
      `level ${unit}`,
      `at most ${unit}`,
      `slew ${rateUnit}`,
      `at most ${rateUnit}`,
      'margin %',
    ],
    shown.map((r) => [
      r.speedMps.toFixed(1),
      (r.speedMps * 3.6).toFixed(0),
      r.level.toFixed(1),
      r.levelMax.toFixed(1),
      r.slew.toFixed(1),
      r.slewMax.toFixed(1),
      (100 * r.margin).toFixed(0),
    ]),
  );
  printLine(`Least margin ${(100 * leastMargin).toFixed(0)} % at ${leastAtMps.toFixed(1)} m/s.`);
}

function printTerms(b: NonNullable<Awaited<ReturnType<typeof usableBuild>>['guard']>['budget']): void {
  const time = b.reactionTimeS + b.detectionTimeS;
  const bend =
    b.bendAccelerationMps2 === undefined
      ? 'from any bend that the level can hold'
      : b.bendAccelerationMps2 === 0
        ? 'from straight ahead only'
        : `from bends of up to ${b.bendAccelerationMps2} m/s²`;
  const variants = b.variants.length === 0 ? '' : ` and ${b.variants.map((v) => v.name).join(', ')}`;
  printLine(
    `\nA runaway of the steering ${bend}, answered after ${time} s, moves the car at most ${b.lateralDistanceM} m aside, for the car as in build.yaml${variants}.` +
      '\nNot counted: a driver who takes longer, other loads, roads with less grip, traffic.',
  );
}

function printProposals(proposals: Proposal[], margin: number): void {
  printLine(
    `\nTables with a margin of ${margin} % to the budget, to be judged and copied by you; nothing was changed.`,
  );
  for (const p of proposals) {
    printLine(`\n${p.channel}`);
    printTable(
      ['m/s', `level ${p.unit}`, 'm/s', `slew ${p.rateUnit}`],
      Array.from({ length: Math.max(p.level.length, p.slew.length) }, (_, i) =>
        [...(p.level[i] ?? ['', '']), ...(p.slew[i] ?? ['', ''])].map(String),
      ),
    );
  }
}
