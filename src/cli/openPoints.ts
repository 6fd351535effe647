/** What a build does not show yet, in a few words each. */
import { loadProof } from '../build/evidence.ts';
import { tableCheckOf } from '../build/guardOf.ts';
import { loadBuild } from '../build/load.ts';
import type { Build } from '../build/model.ts';
import { counted, typed } from './print.ts';

/** Empty where no problem stands in the build, every obligation of today's guard is proved and the tables keep the budget. */
export async function openPoints(folder: string): Promise<string[]> {
  const { build, problems } = await loadBuild(folder);
  const wrong = problems.filter((p) => p.weight !== 'caution').length;
  const points =
    wrong > 0 ? [`${counted(wrong, 'problem')} in the build (\`bywright check ${typed(folder)}\`)`] : [];
  if (build === null || build.guard === null) return points;
  return [...points, ...(await proofPoints(folder, build)), ...budgetPoints(build)];
}

async function proofPoints(folder: string, build: Build): Promise<string[]> {
  const remedy = `(\`bywright prove ${typed(folder)}\`)`;
  const kept = await loadProof(build.folder, build);
  if (kept === null) return [`nothing is proved of the guard yet ${remedy}`];
  if (kept.stale) return [`the kept proof is of an earlier guard ${remedy}`];
  const open = kept.form.obligations.filter((o) => o.status !== 'proved').length;
  return open > 0 ? [`${counted(open, 'obligation')} of ${kept.form.obligations.length}`] : [];
}

function budgetPoints(build: Build): string[] {
  try {
    const { channels, missing } = tableCheckOf(build);
    return [
      ...channels
        .filter(({ leastMargin }) => leastMargin < 0)
        .map(
          ({ channel, leastMargin, leastAtMps }) =>
            `the guard's tables for ${channel} leave the budget, by ${Math.round(-100 * leastMargin)} % at ${leastAtMps.toFixed(1)} m/s`,
        ),
      ...missing.map(({ channel, why }) => `a budget for ${channel} (${why})`),
    ];
  } catch (error) {
    return [`the budget (${(error as Error).message})`];
  }
}
