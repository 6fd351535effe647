/** A build folder as the tool holds it: every file's content, and where each came from. */
import type { z } from 'zod';
import type { BridgePlan } from '../bridge/model.ts';
import type { ReferenceSeries } from '../capture/reference/model.ts';
import type { Camel } from '../dictionary/case.ts';
import type { Dictionary } from '../dictionary/model.ts';
import type { GuardPlan } from '../guard/model.ts';
import type {
  buildFileSchema,
  busesFileSchema,
  cueSheetSchema,
  referenceFileSchema,
  unitsFileSchema,
} from './schema.ts';

export type BuildFile = Camel<z.output<typeof buildFileSchema>>;
export type Bus = Camel<z.output<typeof busesFileSchema>>['buses'][number];
export type Unit = Camel<z.output<typeof unitsFileSchema>>['units'][number];
export type CueSheet = Camel<z.output<typeof cueSheetSchema>>;

export type ReferenceFile = Camel<z.output<typeof referenceFileSchema>>;

/** One reference channel: its file, and what was measured. */
export interface Reference {
  /** Path of the YAML file relative to the build. */
  path: string;
  file: ReferenceFile;
  /** In the unit of the file; null where its data cannot be used. */
  series: ReferenceSeries | null;
  /** How the times were read, in words. */
  guess: string;
}

export interface Build {
  /** Absolute path of the folder. */
  folder: string;
  file: BuildFile;
  buses: Bus[];
  units: Unit[];
  /** One per bus that has a file under `dictionary/`. */
  dictionaries: Dictionary[];
  bridge: BridgePlan | null;
  guard: GuardPlan | null;
  /** Of YAML and CSV files. */
  cueSheets: CueSheet[];
  references: Reference[];
  /** Names of the files under `captures/`, sorted; not read yet. */
  captures: string[];
}

/** Something wrong in a build, with the place and the remedy. All of a folder are reported at once. */
export interface Problem {
  /** Path relative to the build folder. */
  file: string;
  /** 1-based; 0 where the whole file is meant. */
  line: number;
  column: number;
  /** Path to the field: "host.mass_kg", "messages[3].signals[0].start". */
  field: string;
  found: string;
  expected: string;
  /** A caution does not keep the build from being used; without this the place has to be mended. */
  weight?: 'caution';
}
