/**
 * The printed record of a build: what the car and its buses are, what bounds the controller, what was shown and what was not.
 * `dossierHtml` makes one self-contained HTML file from plain data; `figures/` holds the drawings that pages share with it.
 * Nothing is computed here that a person would rely on: figures and verdicts come in from the rooms that work them out.
 */
export { dossierHtml } from './document.ts';
export type * from './input.ts';
export { type Shown, shownAndNotShown } from './shown.ts';
