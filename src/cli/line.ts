/**
 * The whole line of a build: recordings → findings → dictionary tested → gateway → budget → proof → C → dossier.
 * One progress line per stage, one summary of real figures; results go to `out/` and `evidence/` in the build.
 */
import { mkdir } from 'node:fs/promises';
import { basename, join, relative } from 'node:path';
import type { Gateway } from '../bridge/gateway.ts';
import { through } from '../bridge/through.ts';
import { writeCaptureFile } from '../build/captureFile.ts';
import { compileProject } from '../build/compile.ts';
import { dossierText } from '../build/dossierOf.ts';
import { loadProof, type ProofForm, saveProof } from '../build/evidence.ts';
import { writeProject } from '../build/firmwareFiles.ts';
import { firmwareOf } from '../build/firmwareOf.ts';
import { gatewayOf, pinCuesOf } from '../build/gatewayOf.ts';
import { proveBuild, tableCheckOf } from '../build/guardOf.ts';
import type { Build } from '../build/model.ts';
import { type Retest, retest } from '../build/retest.ts';
import { writeFileAtomic } from '../build/save.ts';
import { CaptureError } from '../capture/error.ts';
import { concatenate } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { findAll } from '../findings/index.ts';
import type { Findings } from '../findings/model.ts';
import type { ProjectForm } from '../firmware/head.ts';
import { FirmwareError } from '../firmware/project.ts';
import type { TableCheck } from '../guard/budget/margin.ts';
import { proofWords } from './commands/prove.ts';
import { readCaptures, usableBuild } from './inputs.ts';
import { counted, grouped, printLine } from './print.ts';
import { stage } from './progress.ts';

export interface LineResult {
  build: Build;
  /** Captures that could be read. */
  captures: number;
  frames: number;
  seconds: number;
  findings: Findings | null;
  retest: Retest | null;
  sentFrames: number;
  budget: TableCheck | null;
  proof: ProofForm | null;
  firmware: { form: ProjectForm; files: number; compiled: string } | null;
  /** Paths of what was written. */
  written: string[];
}

/** Runs every stage that the build has the files for. Throws where a stage cannot be done at all. */
export async function runLine(folder: string, signal: AbortSignal): Promise<LineResult> {
  const started = stage('Build');
  const build = await usableBuild(folder);
  started.done(
    `${build.file.title}: ${counted(build.buses.length, 'bus', 'buses')}, ${counted(build.units.length, 'unit')}`,
  );
  const out = join(folder, 'out');
  await mkdir(out, { recursive: true });
  const result: LineResult = {
    build,
    captures: 0,
    frames: 0,
    seconds: 0,
    findings: null,
    retest: null,
    sentFrames: 0,
    budget: null,
    proof: null,
    firmware: null,
    written: [],
  };
  const captures: { name: string; capture: Capture }[] = [];
  for (const name of build.captures) {
    try {
      const { capture } = await readCaptures([join(folder, 'captures', name)], { signal });
      captures.push({ name, capture });
    } catch (error) {
      // One spoilt recording is no reason to leave the others; the summary counts what was read.
      if (!(error instanceof CaptureError)) throw error;
      process.stderr.write(`note: left out: ${error.message}\n`);
    }
  }
  result.captures = captures.length;
  if (captures.length > 0) await listen(result, captures, signal);
  const gateway = gatewayOf(build);
  if (gateway.tx.length > 0) await send(result, gateway, captures, out, signal);
  if (build.guard) await bound(result, signal);
  if (gateway.tx.length > 0) await flash(result, out);
  const record = stage('Dossier');
  const page = join(out, 'dossier.html');
  await writeFileAtomic(page, await dossierText(folder, new Date()));
  result.written.push(page);
  record.done(shortPath(page));
  return result;
}

async function listen(
  result: LineResult,
  captures: readonly { capture: Capture }[],
  signal: AbortSignal,
): Promise<void> {
  const all = concatenate(
    captures.map((c) => c.capture),
    1,
  );
  const step = stage('Finding');
  const findings = await findAll(all, { signal, onProgress: (share) => step.update(share) });
  step.done(`${findings.messages.length} messages`);
  const test = stage('Dictionary');
  result.retest = retest(result.build, all);
  test.done(
    `${result.retest.signals} accepted signals; ${grouped(result.retest.agree)} of ${grouped(result.retest.checked)} check fields agree`,
  );
  result.findings = findings;
  result.frames = all.count;
  result.seconds = findings.seconds;
}

async function send(
  result: LineResult,
  gateway: Gateway,
  captures: readonly { name: string; capture: Capture }[],
  out: string,
  signal: AbortSignal,
): Promise<void> {
  for (const { name, capture } of captures) {
    const step = stage('Bridge');
    const pins = pinCuesOf(result.build, gateway, name);
    const sent = through(gateway, capture, { pins, signal, progress: (share) => step.update(share) });
    const file = join(out, `sent-${basename(name).replace(/\.[^.]*$/, '')}.pcapng`);
    await writeCaptureFile(file, sent, 'pcapng');
    result.sentFrames += sent.count;
    result.written.push(file);
    step.done(`${name}: ${grouped(sent.count)} frames would be sent`);
  }
}

async function bound(result: LineResult, signal: AbortSignal): Promise<void> {
  const { build } = result;
  const over = stage('Budget');
  result.budget = tableCheckOf(build);
  over.done(`tables of ${result.budget.channels.length} channels against their budgets`);
  const step = stage('Proof');
  const kept = await loadProof(build.folder, build);
  if (kept && !kept.stale && !kept.form.remembered) {
    result.proof = kept.form;
    step.done(`${proofWords(kept.form)}; kept from ${kept.form.at.slice(0, 10)}, the guard is the same`);
    return;
  }
  const { form, counterexamples } = await proveBuild(build, {
    // The armable firmware, which follows, asks for a proof that rests on nothing kept.
    verdicts: 'none',
    signal,
    onProgress: (fraction, note) => step.update(`${Math.round(100 * fraction)} % ${note}`),
  });
  result.proof = await saveProof(build.folder, form, counterexamples);
  step.done(proofWords(result.proof));
}

async function flash(result: LineResult, out: string): Promise<void> {
  const step = stage('Firmware');
  const { form, files } = await projectOf(result.build);
  const folder = join(out, 'firmware');
  await writeProject(folder, files);
  const compiled = compileProject(folder);
  if (compiled.kind === 'failed')
    throw new FirmwareError(`${folder} does not compile:\n${compiled.output}`, []);
  const words =
    compiled.kind === 'compiled' ? `compiled without a warning by ${compiled.compiler}` : compiled.advice;
  result.firmware = { form, files: files.length, compiled: words };
  result.written.push(folder);
  step.done(`${form} form, ${files.length} files; ${words}`);
}

/** The armable project, or the bench form where something is not proved. */
async function projectOf(build: Build) {
  try {
    return { form: 'armable' as const, files: await firmwareOf(build, 'armable') };
  } catch (error) {
    if (!(error instanceof FirmwareError)) throw error;
    return { form: 'bench' as const, files: await firmwareOf(build, 'bench') };
  }
}

/** One screen of figures, every one from the run above. */
export function printSummary(r: LineResult): void {
  const row = (label: string, text: string) => printLine(`  ${label.padEnd(24)} ${text}`);
  printLine(`\n${r.build.file.title}`);
  if (r.build.file.note) for (const line of wrapped(r.build.file.note, 100)) printLine(`  ${line}`);
  printLine();
  if (r.findings) {
    const messages = r.findings.messages;
    row(
      'frames read',
      `${grouped(r.frames)} in ${counted(r.captures, 'capture')}, ${r.seconds.toFixed(0)} s`,
    );
    row('messages found', String(messages.length));
    row('counters found', String(messages.filter((m) => m.counter).length));
    row('check fields found', String(messages.filter((m) => m.check).length));
  }
  if (r.retest) {
    row('signals accepted', `${r.retest.signals}, in ${r.retest.messages} messages`);
    row('check fields retested', `${grouped(r.retest.agree)} of ${grouped(r.retest.checked)} frames agree`);
    row(
      'counters retested',
      `${grouped(r.retest.next)} of ${grouped(r.retest.counted)} steps to the next value`,
    );
  }
  if (r.sentFrames > 0) row('gateway would send', `${grouped(r.sentFrames)} frames`);
  if (r.proof) row('obligations proved', proofWords(r.proof).replace(' obligations proved', ''));
  if (r.budget) for (const text of budgetLines(r.budget)) row(text.label, text.words);
  if (r.firmware) row('firmware', `${r.firmware.form} form; ${r.firmware.compiled}`);
  for (const [i, path] of r.written.entries()) row(i === 0 ? 'written' : '', shortPath(path));
  printLine(
    '\nShown of programs and figures, not of a car. A by-wire car can kill: local law, type approval and a licensed',
  );
  printLine('engineer decide what may be driven.');
}

/** Three speeds of each channel: a third, two thirds and all of the highest. */
function budgetLines({ channels, missing }: TableCheck): { label: string; words: string }[] {
  return [
    ...channels.flatMap(({ channel, rows, unit, rateUnit }) => {
      const end = rows.at(-1)!.speedMps;
      return [1 / 3, 2 / 3, 1].map((share) => {
        const r = rows.reduce((a, b) =>
          Math.abs(b.speedMps - share * end) < Math.abs(a.speedMps - share * end) ? b : a,
        );
        return {
          label: `${channel} at ${(r.speedMps * 3.6).toFixed(0)} km/h`,
          words:
            `level ${withUnit(r.level, unit)} of at most ${withUnit(r.levelMax, unit)}, ` +
            `slew ${withUnit(r.slew, rateUnit)} of at most ${withUnit(r.slewMax, rateUnit)}`,
        };
      });
    }),
    ...missing.map(({ channel, why }) => ({ label: `${channel}: no budget`, words: why })),
  ];
}

function withUnit(value: number, unit: string): string {
  const digits = value < 10 ? 1 : 0;
  return `${value.toFixed(digits)}${unit.startsWith('°') ? '' : ' '}${unit}`;
}

function shortPath(path: string): string {
  const short = relative(process.cwd(), path);
  return short === '' || short.startsWith('..') ? path : short;
}

function wrapped(text: string, width: number): string[] {
  const lines = [''];
  for (const word of text.trim().split(/\s+/)) {
    const last = lines.length - 1;
    if (lines[last] !== '' && lines[last]!.length + word.length >= width) lines.push(word);
    else lines[last] = lines[last] === '' ? word : `${lines[last]} ${word}`;
  }
  return lines;
}
