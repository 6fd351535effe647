import { Command } from 'commander';
import { tableCheckOf } from '../../build/guardOf.ts';
import { toBudgetForm } from '../../guard/margin.ts';
import { EXIT } from '../exit.ts';
import { usableBuild } from '../inputs.ts';
import { printJson, printLine, printTable } from '../print.ts';

export function budget(): Command {
  return new Command('budget')
    .description(
      'the largest level and slew that leave the driver time, over speed, beside the tables of the guard',
    )
    .argument('<build>', 'folder of the build')
    .option('--json', 'print the form budget/1')
    .addHelpText('after', '\nExample:\n  bywright budget demo')
    .action(async (folder: string, options: { json?: boolean }) => {
      const build = await usableBuild(folder);
      const check = tableCheckOf(build);
      if (check.leastMargin < 0) process.exitCode = EXIT.notShown;
      if (options.json) return printJson(toBudgetForm(check));
      const end = check.rows.at(-1)?.speedMps ?? 0;
      const shown = check.rows.filter((r) => r.speedMps === Math.round(r.speedMps) || r.speedMps === end);
      printTable(
        ['m/s', 'km/h', 'level °', 'at most °', 'slew °/s', 'at most °/s', 'margin %'],
        shown.map((r) => [
          r.speedMps.toFixed(1),
          (r.speedMps * 3.6).toFixed(0),
          r.tableLevelDeg.toFixed(1),
          r.levelDeg.toFixed(1),
          r.tableSlewDegPerS.toFixed(0),
          r.slewDegPerS.toFixed(0),
          (100 * r.margin).toFixed(0),
        ]),
      );
      const { reactionTimeS, detectionTimeS, lateralDistanceM } = build.guard!.budget;
      const time = reactionTimeS + detectionTimeS;
      printLine(
        `\nSteering-wheel angles, either side. A runaway from straight ahead, answered after ${time} s, moves the car at most ` +
          `${lateralDistanceM} m aside with this car's figures.\nNot counted: a runaway out of a bend, tyres beyond their linear range, a driver who takes longer.`,
      );
      printLine(
        `Least margin ${(100 * check.leastMargin).toFixed(0)} % at ${check.leastAtMps.toFixed(1)} m/s.`,
      );
    });
}
