/** A dossier of the demo build with an invented proof and budget, so that every kind of line is in it. */
import { resolve } from 'node:path';
import { loadBuild } from '../../src/build/load.ts';
import type { DossierInput } from '../../src/dossier/index.ts';

export async function sampleInput(changes: Partial<DossierInput> = {}): Promise<DossierInput> {
  const { build } = await loadBuild(resolve('demo'));
  if (build === null) throw new Error('the demo build cannot be loaded');
  const speeds = Array.from({ length: 29 }, (_, i) => i / 2);
  const steps = 90;
  const wave = (f: (k: number) => number) => Array.from({ length: steps }, (_, k) => f(k));
  return {
    title: build.file.title,
    note: build.file.note ?? null,
    stage: build.file.stage,
    revision: '9f3c21a0'.repeat(8),
    made: '2026-11-25T10:20:30.000Z',
    version: '0.1.0',
    host: build.file.host,
    buses: build.buses,
    units: build.units,
    dictionaries: build.dictionaries,
    bridge: build.bridge,
    guard: build.guard,
    budget: {
      channels: [
        {
          channel: 'steering',
          quantity: 'angle of the steering wheel',
          unit: '°',
          rateUnit: '°/s',
          rows: speeds.map((speedMps) => ({
            speedMps,
            levelMax: 4000 / (speedMps + 1) ** 2,
            slewMax: 2500 / (speedMps + 2),
            level: Math.max(16, 90 - 6.5 * speedMps),
            slew: Math.max(40, 120 - 6 * speedMps),
          })),
        },
      ],
      missing: [],
    },
    budgetError: null,
    proof: {
      hash: 'ab12'.repeat(16),
      at: '2026-11-24T18:00:00.000Z',
      stale: false,
      obligations: Array.from({ length: 34 }, (_, i) => ({
        name: `limit_${i + 1}`,
        sentence: `The order keeps within bound ${i + 1} at every speed, whatever the controller asks for and however old it is.`,
        status:
          i === 3
            ? ('failed' as const)
            : i === 9
              ? ('notShown' as const)
              : i === 12
                ? ('vacuous' as const)
                : ('proved' as const),
        note: i === 9 ? 'No proof within the limit of solver steps.' : '',
      })),
    },
    counterexamples: [
      {
        obligation: 'limit_4',
        sentence: 'The order keeps within bound 4 at every speed, whatever the controller asks for.',
        stepMs: 10,
        brokenAtStep: 72,
        columns: [
          { name: 'command_angle', kind: 'input', values: wave((k) => Math.min(9000, k * 150)) },
          { name: 'speed', kind: 'input', values: wave((k) => 700 + 4 * k) },
          { name: 'stop_input', kind: 'input', values: wave(() => 0) },
          { name: 'order_angle', kind: 'output', values: wave((k) => Math.min(4400, k * 60)) },
          { name: 'mode', kind: 'output', values: wave((k) => (k < 20 ? 0 : k < 30 ? 1 : 2)) },
          { name: 'hold_steps', kind: 'state', values: wave((k) => Math.min(20, k)) },
        ],
      },
    ],
    problems: ['units.yaml:4:3: found …; expected ….'],
    files: [
      ...['build.yaml', 'buses.yaml', 'units.yaml', 'bridge.yaml', 'guard.yaml'].map((file, i) => ({
        file,
        what: 'text file',
        bytes: 1000 + 317 * i,
        sha256: `${i}c0ffee0`.repeat(8),
      })),
      { file: 'captures/drive-1.pcapng', what: 'capture', bytes: 12_345_678, sha256: '01234567'.repeat(8) },
    ],
    ...changes,
  };
}
