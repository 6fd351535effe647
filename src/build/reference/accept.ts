/** Finds a reference channel of a build by its name, aligns it with a signal, and writes an accepted clock into its file. */
import {
  type Alignment,
  type AlignOptions,
  alignReference,
  type NoAlignment,
} from '../../capture/reference/align.ts';
import type { Capture } from '../../capture/store.ts';
import { readText } from '../disk.ts';
import { editYaml } from '../edit.ts';
import type { Build, Reference } from '../model.ts';
import { problemSentence } from '../problem.ts';
import { contentHash, type SaveOptions, saveText } from '../save.ts';
import { signalNamed } from './signal.ts';

/** The channel is not there or cannot be used, or its alignment cannot be accepted; the message is one sentence. */
export class ChannelError extends Error {
  override readonly name = 'ChannelError';
}

/** By name, by file name, or by path of its YAML file. @throws ChannelError */
export function referenceNamed(build: Build, capture: string, word: string): Reference {
  const own = build.references.filter((r) => r.file.capture === capture);
  const base = word.replace(/^.*reference\//, '');
  const found = own.filter(
    (r) => r.file.name === word || r.path === `reference/${base}` || r.path === `reference/${base}.yaml`,
  );
  const [one] = found;
  if (one !== undefined && found.length === 1) return one;
  if (found.length > 1)
    throw new ChannelError(
      `${found.length} channels of ${capture} are called "${word}": name the file, as in ${found[0]?.path}`,
    );
  const names = own.map((r) => r.file.name);
  throw new ChannelError(
    names.length > 0
      ? `${capture} has no reference channel "${word}"; it has: ${names.join('; ')}`
      : `${capture} has no reference channel: write one into reference/, with "form: reference/1"`,
  );
}

/** @throws ChannelError, SignalError */
export function alignIn(
  build: Build,
  capture: Capture,
  reference: Reference,
  signalWords: string,
  options: AlignOptions = {},
): { result: Alignment | NoAlignment; signal: string; signalUnit: string } {
  const signal = signalNamed(build, signalWords);
  if (reference.series === null)
    throw new ChannelError(
      `the data of "${reference.file.name}" cannot be used: \`bywright check\` says why`,
    );
  const series = signal.series(capture);
  const result =
    series.timeS.length === 0
      ? { reason: `the capture holds no value of ${signal.words}` }
      : alignReference(reference.series, series, options);
  return { result, signal: signal.words, signalUnit: signal.unit };
}

/** What stands under `clock` in the file of the channel once an alignment is accepted. */
export function clockEntry(
  result: Alignment,
  signal: string,
  acceptedIso: string,
): Record<string, string | number> {
  const to = (digits: number, value: number) => Number(value.toFixed(digits));
  return {
    offset_s: to(4, result.offsetS),
    drift_ppm: to(2, result.driftPpm),
    offset_half_s: to(4, result.shiftHalfS),
    ...(result.driftHalfPpm !== null && { drift_half_ppm: to(2, result.driftHalfPpm) }),
    r: to(5, result.r),
    residual: Number(result.residual.toPrecision(4)),
    signal,
    accepted: acceptedIso,
  };
}

/** Writes the clock into the YAML file of the channel; the rest of it stays. @throws ChannelError, SaveError, LockError */
export async function acceptClock(
  folder: string,
  { path }: Reference,
  clock: Record<string, string | number>,
  options: SaveOptions = {},
): Promise<void> {
  const read = await readText(folder, path);
  if (read.kind === 'problem') throw new ChannelError(problemSentence(read.problem));
  if (read.kind === 'missing') throw new ChannelError(`${path} is not there any more`);
  const text = new TextDecoder('utf-8', { ignoreBOM: true }).decode(read.bytes);
  const after = editYaml(text, [{ do: 'set', path: ['clock'], value: clock }]);
  await saveText(folder, path, after, contentHash(read.bytes), options);
}
