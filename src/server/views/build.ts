/** The Build sheet's reply. */
import { basename } from 'node:path';
import type { Build, Problem } from '../../build/model.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import type { BuildReply, CaptureFileSummary, DictionarySummary, ProofForm } from '../api.ts';

export function buildView(
  folder: string,
  loaded: { build: Build | null; problems: Problem[]; revision: string },
  captures: CaptureFileSummary[],
  proof: { form: ProofForm; stale: boolean } | null,
): BuildReply {
  const { build, problems, revision } = loaded;
  return {
    name: basename(folder),
    folder,
    revision,
    build: build === null ? null : summary(build),
    problems,
    captures,
    proof: proof === null ? null : { ...countsOf(proof.form), stale: proof.stale },
  };
}

function summary(build: Build): NonNullable<BuildReply['build']> {
  const { file, buses, units, dictionaries, cueSheets, bridge, guard } = build;
  return {
    title: file.title,
    note: file.note ?? null,
    stage: file.stage,
    host: file.host,
    buses,
    units,
    dictionaries: dictionaries.map(dictionarySummary),
    cueSheets: cueSheets.map((sheet) => ({
      capture: sheet.capture,
      cues: sheet.cues.map((cue) => cue.name),
    })),
    hasGuard: guard !== null,
    hasBridge: bridge !== null,
  };
}

function dictionarySummary({ bus, messages }: Dictionary): DictionarySummary {
  const signals = messages.flatMap((m) => m.signals);
  const inState = (state: 'accepted' | 'proposed' | 'rejected') =>
    signals.filter((s) => s.state === state).length;
  return {
    bus,
    messages: messages.length,
    accepted: inState('accepted'),
    proposed: inState('proposed'),
    rejected: inState('rejected'),
    counters: messages.filter((m) => m.counter !== undefined).length,
    checks: messages.filter((m) => m.check !== undefined).length,
  };
}

function countsOf(form: ProofForm) {
  const count = (status: ProofForm['obligations'][number]['status']) =>
    form.obligations.filter((o) => o.status === status).length;
  return {
    proved: count('proved'),
    failed: count('failed'),
    notShown: count('notShown'),
    vacuous: count('vacuous'),
  };
}
