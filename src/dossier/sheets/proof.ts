/** The proof: every obligation with its status, and a play-back of each that fails. */
import { movingSeries, trace } from '../figures/index.ts';
import { type Html, html } from '../html.ts';
import type { DossierCounterexample, DossierInput } from '../input.ts';
import { caution, figureBlock, type Numbering, note, sheet, table } from '../sheet.ts';
import { counted } from '../shown.ts';
import { dateWords, shortHash, statusWord } from '../words.ts';

export const proofTitle = 'Proof of the limits';

/** Steps printed before and after the broken one, and lanes at most: what fits on half a page. */
const BEFORE = 40;
const AFTER = 8;
const LANES = 9;

export function proofSheet(
  input: DossierInput,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const number = numbering.sheet();
  const { proof } = input;
  return sheet({
    number,
    title: proofTitle,
    lead: 'Each limit of the guard as a sentence that a solver shows for every sequence of inputs, of every length, or fails to.',
    notes: [
      note('Not covered', 'What the program does not see: the steering unit, wiring, supply and driver.'),
      ...(proof === null
        ? []
        : [note('Program', html`${shortHash(proof.hash)}, proved ${dateWords(proof.at)}.`)]),
    ],
    body:
      proof === null
        ? caution('Nothing was proved yet.')
        : proofPart(input, proof, numbering, document, width),
  });
}

function proofPart(
  input: DossierInput,
  proof: NonNullable<DossierInput['proof']>,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const count = (status: string) => proof.obligations.filter((o) => o.status === status).length;
  const failed = input.counterexamples;
  return html`${
    proof.stale
      ? caution(
          'The guard or what it reads has changed since: this proof is of another program and shows nothing about the one of today. Prove again.',
        )
      : null
  }
<p>${counted(proof.obligations.length, 'obligation')}: ${count('proved')} proved, ${count('failed')} failed, ${count('notShown')} not shown, ${count('vacuous')} vacuous.${
    proof.remembered === undefined
      ? null
      : html` ${counted(proof.remembered, 'verdict')} kept from an earlier proof, not asked of the solver again.`
  }</p>
${proof.strength === undefined ? null : html`<p>${strengthSentence(proof.strength)}</p>`}
${table(
  [{ title: 'obligation' }, { title: 'sentence', kind: 'wide' }, { title: 'status' }],
  proof.obligations.map((o) => [
    html`<code>${o.name}</code>`,
    html`${o.sentence}${o.note === '' ? null : html`<span class="source"> ${o.note}</span>`}`,
    statusWord(o.status),
  ]),
)}
${failed.length === 0 ? null : html`<h3>How they fail</h3>${failed.map((c) => counterexamplePart(c, numbering, document, width))}`}`;
}

/** How sharp the obligations are: what became of guards that were changed in one small way each. */
function strengthSentence(s: NonNullable<NonNullable<DossierInput['proof']>['strength']>): string {
  const open = s.undecided === 0 ? '' : `; ${s.undecided} could not be decided`;
  return `Sharpness of the obligations: of ${counted(s.mutants, 'guard')} changed in one small way each (drawn with seed ${s.seed}), ${s.refuted} break an obligation in a run from switching on and ${s.equivalent} are shown to do the same as this one${open}.`;
}

function counterexamplePart(
  example: DossierCounterexample,
  numbering: Numbering,
  document: Document,
  width: number,
): Html {
  const steps = example.columns[0]?.values.length ?? 0;
  const from = Math.max(0, example.brokenAtStep - BEFORE);
  const to = Math.max(0, Math.min(steps - 1, example.brokenAtStep + AFTER));
  const { moving, still } = movingSeries(example.columns, from, to);
  const order = { input: 0, output: 1, state: 2, value: 3 } as const;
  const lanes = [...moving].sort((a, b) => order[a.kind] - order[b.kind]).slice(0, LANES);
  const left = moving.length - lanes.length;
  const drawing = trace(
    {
      obligation: example.obligation,
      stepMs: example.stepMs,
      brokenAtStep: example.brokenAtStep,
      series: lanes,
    },
    { document, width, from, to },
  );
  const standing = still.filter((c) => c.kind === 'input').map((c) => `${c.name} ${c.values[from]}`);
  const words = [
    `Play-back from switching on, steps ${from} to ${to} of ${example.stepMs} ms.`,
    standing.length === 0 ? '' : `Inputs that stand still: ${standing.join(', ')}.`,
    left === 0 ? '' : `${counted(left, 'further value')} move in the counterexample file.`,
  ];
  return html`<p class="keep"><code>${example.obligation}</code>: ${example.sentence}</p>
${figureBlock(numbering.figure(), drawing, words.filter(Boolean).join(' '))}`;
}
