/** The last sheets: open problems, cautions, and the index of what the dossier rests on. */
import { type Html, html } from '../html.ts';
import type { DossierInput } from '../input.ts';
import { type Numbering, note, sheet, table } from '../sheet.ts';

export const problemsTitle = 'Open problems in the files';
export const cautionsTitle = 'Cautions';
export const indexTitle = 'Index of evidence';

export function problemsSheet({ problems }: DossierInput, numbering: Numbering): Html {
  return sheet({
    number: numbering.sheet(),
    title: problemsTitle,
    start: 'flow',
    lead: 'What was wrong or doubtful in the build’s files when this was made.',
    body:
      problems.length === 0
        ? html`<p>None was found.</p>`
        : html`<ol class="problems">${problems.map((p) => html`<li>${p}</li>`)}</ol>`,
  });
}

export function cautionsSheet(_: DossierInput, numbering: Numbering): Html {
  const cautions = [
    'A proof is about the program and the plan as written here. If a signal is decoded with the wrong sign, scale or zero, the program keeps its limits about a wrong quantity. Confirm sign, zero and scale of angle, speed and torque on the stand, wheels off the ground, before a power stage is connected.',
    'A stop input that only asks software to stop is not a stop: the emergency stop has to remove power from the steering unit by itself, and that has to be tried out before each session.',
    'The budget assumes a driver who watches the road with hands on the wheel. A driver who is not ready takes several times longer.',
    'Change nothing on the way from the proof to the car: other tables, another step time or other messages make another program. The hash of the program tells.',
    'In many countries a changed steering or brake system ends the approval of the vehicle and its insurance. Ask the authority in charge before the car leaves private ground.',
  ];
  return sheet({
    number: numbering.sheet(),
    title: cautionsTitle,
    start: 'flow',
    lead: 'For everyone who works on the car or sits in it.',
    body: html`<div class="caution"><ol>${cautions.map((text) => html`<li>${text}</li>`)}</ol></div>`,
  });
}

export function indexSheet({ files, revision }: DossierInput, numbering: Numbering): Html {
  return sheet({
    number: numbering.sheet(),
    title: indexTitle,
    start: 'flow',
    lead: 'The files that this dossier rests on, as they were when it was made. A file with another hash is another file.',
    notes: [note('Check', html`<code>sha256sum</code> prints the hash of a file.`)],
    body: html`<p class="keep">Revision of the text files together: <code>${revision}</code></p>
${table(
  [
    { title: 'file' },
    { title: 'what' },
    { title: 'bytes', kind: 'number' },
    { title: 'SHA-256', kind: 'wide' },
  ],
  files.map((f) => [
    f.file,
    f.what,
    f.bytes.toLocaleString('en').replaceAll(',', '\u202f'),
    html`<code class="hash">${f.sha256}</code>`,
  ]),
)}`,
  });
}
