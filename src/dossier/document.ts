/** The dossier: one self-contained HTML file that prints on A4 and Letter, for an engineer, insurer or inspector. */
import { parseHTML } from 'linkedom';
import { type Html, html, raw } from './html.ts';
import type { DossierInput } from './input.ts';
import { Numbering } from './sheet.ts';
import { bridgeSheet, bridgeTitle } from './sheets/bridge.ts';
import { carSheet, carTitle } from './sheets/car.ts';
import {
  cautionsSheet,
  cautionsTitle,
  indexSheet,
  indexTitle,
  problemsSheet,
  problemsTitle,
} from './sheets/closing.ts';
import { dictionarySheet, dictionaryTitle } from './sheets/dictionary.ts';
import { guardSheet, guardTitle } from './sheets/guard.ts';
import { proofSheet, proofTitle } from './sheets/proof.ts';
import { titleSheet } from './sheets/title.ts';
import { dossierStyle } from './style.ts';

type SheetMaker = (input: DossierInput, numbering: Numbering, document: Document, width: number) => Html;

/** The sheets after the first, in order: adding one is adding its file and a line here. */
const SHEETS: readonly (readonly [string, SheetMaker])[] = [
  [carTitle, carSheet],
  [dictionaryTitle, dictionarySheet],
  [bridgeTitle, bridgeSheet],
  [guardTitle, guardSheet],
  [proofTitle, proofSheet],
  [problemsTitle, problemsSheet],
  [cautionsTitle, cautionsSheet],
  [indexTitle, indexSheet],
];

/** Width of drawings in their own units: one is about a CSS pixel on a printed page with our margins. */
const DRAWING_WIDTH = 680;

/** The whole document. It loads nothing from anywhere and holds no script. */
export function dossierHtml(input: DossierInput): string {
  const { document } = parseHTML('<!doctype html><html><body></body></html>');
  const numbering = new Numbering();
  const contents = SHEETS.map(([title], i) => ({ number: i + 1, title }));
  const sheets = SHEETS.map(([, make]) => make(input, numbering, document, DRAWING_WIDTH));
  const foot = `${input.stage}, revision ${input.revision.slice(0, 12)}`;
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="content-security-policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<title>Dossier: ${input.title}</title>
${raw(`<style>${dossierStyle(input.title, foot)}</style>`)}
</head>
<body>
${titleSheet(input, contents)}${sheets}
</body>
</html>
`.text;
}
