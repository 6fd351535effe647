/** The files of a build, one line per kind: where they stand, what `form` they carry, and their schema. */
import type { z } from 'zod';
import { bridgeSchema } from '../bridge/schema.ts';
import { dictionarySchema } from '../dictionary/schema.ts';
import { guardSchema } from '../guard/schema.ts';
import {
  buildFileSchema,
  busesFileSchema,
  cueSheetSchema,
  referenceFileSchema,
  unitsFileSchema,
} from './schema.ts';

export const FILE_KINDS = {
  build: { path: 'build.yaml', form: 'build/1', schema: buildFileSchema },
  buses: { path: 'buses.yaml', form: 'buses/1', schema: busesFileSchema },
  units: { path: 'units.yaml', form: 'units/1', schema: unitsFileSchema },
  dictionary: { path: 'dictionary/*.yaml', form: 'dictionary/1', schema: dictionarySchema },
  cues: { path: 'cues/*.yaml', form: 'cues/1', schema: cueSheetSchema },
  reference: { path: 'reference/*.yaml', form: 'reference/1', schema: referenceFileSchema },
  bridge: { path: 'bridge.yaml', form: 'bridge/1', schema: bridgeSchema },
  guard: { path: 'guard.yaml', form: 'guard/2', schema: guardSchema },
} as const satisfies Record<string, { path: string; form: string; schema: z.ZodType }>;

export type FileKind = keyof typeof FILE_KINDS;

export type FileContent<K extends FileKind> = z.output<(typeof FILE_KINDS)[K]['schema']>;

/** Single files at the top of the folder, in reading order. */
export const TOP_FILES = ['build.yaml', 'buses.yaml', 'units.yaml', 'bridge.yaml', 'guard.yaml'] as const;

/** Folders that hold several files of one kind. */
export const TEXT_FOLDERS = ['dictionary', 'cues', 'reference'] as const;

/** Without these there is no build. */
export const NEEDED: readonly string[] = ['build.yaml', 'buses.yaml', 'units.yaml'];

export const CAPTURES_FOLDER = 'captures';
export const EVIDENCE_FOLDER = 'evidence';

/** Whether an entry of captures/ is a recording: not the note beside them, not what an ended program left. */
export function isRecording(name: string): boolean {
  return !/^readme(\.\w+)?$/i.test(name) && !name.startsWith('.') && !name.endsWith('.tmp');
}
