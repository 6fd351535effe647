import { basename } from 'node:path';
import { Command } from 'commander';
import { contradictionSentence } from '../../build/contradictions.ts';
import { findInThreads } from '../../build/findings/threads.ts';
import { loadBuild } from '../../build/load.ts';
import { formatId } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { type CuedRecording, rankCues } from '../../findings/cues/index.ts';
import { findSenders, toFindingsForm } from '../../findings/index.ts';
import type { Findings } from '../../findings/model.ts';
import { relate } from '../../findings/relations/index.ts';
import { followersOf, type ReferenceChannel, withScales } from '../../findings/scale/index.ts';
import { CueSheetError, cuedRecordings } from '../cuedRecordings.ts';
import { cuesTable } from '../cuesTable.ts';
import { findingsTable } from '../findingsTable.ts';
import { printSentence } from '../fitted.ts';
import { buildAround, readCaptures } from '../inputs.ts';
import { messageFields } from '../messageFields.ts';
import { counted, printJson, printLine } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';
import { NoReferenceError, referencesOf } from '../referencesOf.ts';
import { relationsTable } from '../relationsTable.ts';
import { contradictionsOf } from '../retested.ts';
import { scalesTable } from '../scalesTable.ts';
import { sendersTable } from '../sendersTable.ts';

/** The capture has no message of that identifier; the message says which there are. */
export class NoMessageError extends Error {
  override name = 'NoMessageError';
}

export function find(): Command {
  return new Command('find')
    .description(
      'work out messages, signals, counters and check fields from captures, each with a probability',
    )
    .argument('<capture...>', 'recordings of one car, any readable format')
    .option(
      '--columns <names>',
      'columns of a text capture where the guess is wrong, e.g. time,bus,id,ext,data',
    )
    .option('--message <id>', 'every field of one message with its probability and evidence, e.g. 1A0')
    .option(
      '--senders',
      'which messages are sent from one clock, how many units there may be, what comes after what',
    )
    .option('--relations', 'which signals are copies, rates, sums or products of each other')
    .option(
      '--cues [sheet...]',
      'signals that followed cues; without a file, the sheets of the build in which a recording lies',
    )
    .option('--references', 'signals that follow the reference channels of the build, with scale and offset')
    .option('--json', 'print the form findings/1')
    .addHelpText('after', '\nExample:\n  bywright find captures/drive-1.pcapng')
    .action(async (paths: string[], options: FindCommandOptions) => {
      const signal = stopOnInterrupt();
      const { capture, captures } = await readCaptures(paths, { columns: options.columns, signal });
      const asked = await askedOf(paths, captures, options);
      if (options.senders && !options.json && options.message === undefined) {
        await senders(capture, signal);
        return;
      }
      const step = stage('Finding');
      const findings = await findInThreads(capture, { signal, onProgress: (done) => step.update(done) });
      signal.throwIfAborted();
      const counters = findings.messages.filter((m) => m.counter).length;
      const checks = findings.messages.filter((m) => m.check).length;
      step.done(
        `${counted(findings.messages.length, 'message')}, ${counted(counters, 'counter')}, ${counted(checks, 'check field')}`,
      );
      await more(capture, findings, asked, { relations: options.relations || options.json, signal });
      const shown = options.message === undefined ? findings : onlyMessage(findings, options.message);
      if (options.json) printJson(toFindingsForm(shown));
      else if (options.message !== undefined) shown.messages.forEach(messageFields);
      else if (options.relations || asked.recordings || asked.references) {
        if (options.relations && findings.relations) relationsTable(findings.relations);
        if (findings.cues && asked.recordings) cuesTable(findings.cues);
        if (findings.scales) scalesTable(findings.scales);
      } else findingsTable(shown);
      if (!options.json) await contradicted(paths, signal);
    });
}

interface Asked {
  recordings: CuedRecording[] | null;
  references: ReferenceChannel[] | null;
}

/** What the options name beside the captures, read before anything takes time. */
async function askedOf(paths: string[], captures: Capture[], options: FindCommandOptions): Promise<Asked> {
  const { cues } = options;
  const recordings =
    cues === undefined ? null : await cuedRecordings(paths, captures, cues === true ? [] : cues);
  if (recordings?.length === 0)
    throw new CueSheetError(
      `no cue sheet for ${paths.join(', ')}: name one, --cues sheet.yaml, or put one into cues/ of the build with "capture: ${basename(paths[0] ?? '')}"`,
    );
  if (options.references && paths.length > 1)
    throw new NoReferenceError('--references holds one recording against its channels: name one recording');
  const references = options.references
    ? await referencesOf(paths[0] as string, captures[0] as Capture)
    : null;
  return { recordings, references };
}

/** Works out what goes beyond single messages, and puts it into the findings. */
async function more(
  capture: Capture,
  findings: Findings,
  { recordings, references }: Asked,
  { relations, signal }: { relations?: boolean | undefined; signal: AbortSignal },
): Promise<void> {
  if (relations) {
    const step = stage('Relations');
    findings.relations = await relate(capture, findings, {
      signal,
      onProgress: (done) => step.update(done),
    });
    step.done(counted(findings.relations.relations.length, 'relation'));
  }
  if (recordings) {
    const step = stage('Cues');
    findings.cues = await rankCues(recordings, findings, {
      signal,
      onProgress: (done) => step.update(done),
    });
    const clear = findings.cues.filter((c) => c.open === null).length;
    step.done(`${clear} of ${counted(findings.cues.length, 'cue')} with a clear follower`);
  }
  if (references) {
    const step = stage('References');
    findings.scales = await followersOf(capture, findings, references, {
      signal,
      onProgress: (done) => step.update(done),
    });
    findings.messages = withScales(findings.messages, findings.scales);
    step.done(counted(references.length, 'channel'));
  }
  signal.throwIfAborted();
}

interface FindCommandOptions {
  columns?: string;
  message?: string;
  senders?: boolean;
  relations?: boolean;
  cues?: true | string[];
  references?: boolean;
  json?: boolean;
}

/** What these recordings contradict of the entries that were accepted in the build in which they lie. */
async function contradicted(paths: readonly string[], signal: AbortSignal): Promise<void> {
  const folder = buildAround(paths[0] ?? '');
  const build = folder === null ? null : (await loadBuild(folder)).build;
  if (build === null) return;
  const mine = paths.filter((path) => buildAround(path) === folder).map((path) => basename(path));
  const tested = await contradictionsOf(build, signal, mine);
  if (tested === null || tested.contradictions.length === 0) return;
  printLine('\nContradicted');
  for (const c of tested.contradictions) printSentence('  ', contradictionSentence(c));
}

async function senders(capture: Capture, signal: AbortSignal): Promise<void> {
  const step = stage('Senders');
  const found = await findSenders(capture, { signal, onProgress: (done) => step.update(done) });
  signal.throwIfAborted();
  const placed = found.messages.filter((m) => m.notPlaced === null).length;
  step.done(`${placed} of ${counted(found.messages.length, 'message')} placed`);
  sendersTable(found);
}

/** The messages of one identifier, on whatever bus. */
function onlyMessage(findings: Findings, id: string): Findings {
  const digits = id.replace(/^0x/i, '').toUpperCase();
  const plain = digits.padStart(digits.length > 3 ? 8 : 3, '0');
  const named = (m: Findings['messages'][number]) => formatId(m.id, m.extended);
  const messages = findings.messages.filter((m) => named(m) === plain);
  if (messages.length > 0) return { ...findings, messages };
  const there = [...new Set(findings.messages.map(named))].join(', ');
  throw new NoMessageError(
    `no message "${id}" in this capture: an identifier has 3 hex digits, or 8 where it is extended; there are ${there}`,
  );
}
