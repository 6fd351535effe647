/** The first sheet: title block, standing caution, what was shown and what was not, contents. */
import { type Html, html } from '../html.ts';
import type { DossierInput } from '../input.ts';
import { caution } from '../sheet.ts';
import { shownAndNotShown } from '../shown.ts';
import { dateWords, shortHash } from '../words.ts';

export interface Entry {
  number: number;
  title: string;
}

export function titleSheet(input: DossierInput, contents: readonly Entry[]): Html {
  const { shown, notShown } = shownAndNotShown(input);
  return html`<header>
<p class="kind">Dossier of a by-wire conversion</p>
<h1>${input.title}</h1>
${input.note === null ? null : html`<p class="lead">${input.note}</p>`}
<div class="block">
<div><small>host</small>${input.host.name}</div>
<div><small>stage</small>${input.stage}</div>
<div><small>made</small>${dateWords(input.made)}</div>
<div><small>revision of the build</small>${shortHash(input.revision)}</div>
<div><small>made with</small>Bywright ${input.version}</div>
</div>
${caution(
  'A car that steers, brakes or accelerates by wire can kill its occupants and others. This record says what was shown by computation and what was not; it is no approval and does not call anything fit for the road. Local law, type approval and a licensed engineer decide what may be driven, where, and by whom. Work with the wheels off the ground, the power stage off and a stop switch within reach until a person who answers for it says otherwise.',
)}
<div class="balance">
<div><h3>Shown</h3>${list(shown, 'Nothing yet.')}</div>
<div><h3>Not shown</h3>${list(notShown, 'Nothing is on this list.')}</div>
</div>
<nav><h3>Sheets</h3><ol>${contents.map(
    (entry) => html`<li><a href="#sheet-${entry.number}">${entry.title}</a></li>`,
  )}</ol></nav>
</header>
`;
}

function list(items: readonly string[], none: string): Html {
  return items.length === 0
    ? html`<p>${none}</p>`
    : html`<ul>${items.map((item) => html`<li>${item}</li>`)}</ul>`;
}
