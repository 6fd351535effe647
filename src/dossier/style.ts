/** The style of the printed dossier: a workshop manual in ink on paper. System fonts only; nothing is loaded. */

/** `title` stands at the foot of every page, `stage` and `revision` beside it. */
export function dossierStyle(title: string, foot: string): string {
  return STYLE.replace('"FOOT-LEFT"', cssText(title)).replace('"FOOT-MIDDLE"', cssText(foot));
}

/** A CSS string that can neither end the string nor the style element. */
function cssText(text: string): string {
  return `"${text.replace(/[^A-Za-z0-9 ]/gu, (c) => `\\${(c.codePointAt(0) as number).toString(16)} `)}"`;
}

const STYLE = `
@page {
  margin: 15mm 14mm 17mm 18mm;
  @bottom-left { content: "FOOT-LEFT"; font: 7.5pt sans-serif; color: #555; }
  @bottom-center { content: "FOOT-MIDDLE"; font: 7.5pt sans-serif; color: #555; }
  @bottom-right { content: counter(page) " of " counter(pages); font: 7.5pt sans-serif; color: #555; }
}
:root { --paper: #fff; --ink: #16191c; --soft: #555a5e; --rule: #b9b4a6; --faint: #efebe0; --accent: #8a3b12; --wash: #f8efe8; }
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); }
body { margin: 0 auto; max-width: 48rem; padding: 1.5rem; font: 10pt/1.4 "Source Sans 3", "Segoe UI", "Noto Sans", "Liberation Sans", sans-serif; hyphens: manual; }
h1, h2, h3 { font-family: Charter, "Bitstream Charter", Georgia, "Noto Serif", "Liberation Serif", serif; font-weight: 600; break-after: avoid; }
h1 { font-size: 26pt; line-height: 1.1; margin: 0 0 4mm; }
h2 { font-size: 16pt; margin: 0 0 2mm; padding-bottom: 1mm; border-bottom: 1.2pt solid var(--ink); }
h2 .number { display: inline-block; min-width: 9mm; color: var(--accent); }
h3 { font-size: 11.5pt; margin: 5mm 0 1.5mm; }
h4 { font-size: 10pt; font-weight: 600; margin: 3.5mm 0 1mm; break-after: avoid; }
h4 small { font-weight: 400; color: var(--soft); font-size: 9pt; }
h4 code { margin-right: 1mm; }
p { margin: 0 0 2mm; orphans: 3; widows: 3; }
.kind { font-size: 10pt; letter-spacing: .04em; color: var(--soft); margin: 0 0 1mm; }
.lead { color: var(--soft); }
.keep { break-after: avoid; }
code { font-family: "JetBrains Mono", "DejaVu Sans Mono", "Liberation Mono", monospace; font-size: .88em; }
code.hash { font-size: 6.6pt; white-space: nowrap; letter-spacing: -.01em; }
section { break-before: page; }
section.flow { break-before: auto; margin-top: 9mm; }
.opening { display: grid; grid-template-columns: minmax(0, 1fr) 52mm; gap: 8mm; align-items: start; margin-bottom: 2mm; break-inside: avoid; break-after: avoid; }
aside { font-size: 8.5pt; line-height: 1.35; }
aside .note { border-top: .5pt solid var(--rule); padding: 1mm 0; }
aside .note:last-child { border-bottom: .5pt solid var(--rule); }
aside .note b { display: block; }
.block { display: grid; grid-template-columns: 1.3fr 1fr 1.4fr 1.4fr 1.1fr; border: 1.2pt solid var(--ink); font-size: 9pt; margin: 4mm 0; break-inside: avoid; }
.block > div { padding: 1.2mm 2mm; border-right: .6pt solid var(--ink); }
.block > div:last-child { border-right: 0; }
.block small { display: block; color: var(--soft); font-size: 7.5pt; }
.caution { border: 1.2pt solid var(--accent); background: var(--wash); padding: 2mm 3mm; margin: 3mm 0; font-size: 9.5pt; break-inside: avoid; }
.caution ol { margin: 0; padding-left: 5mm; }
.caution li { margin-bottom: 1.5mm; }
.caution b { color: var(--accent); }
.balance { display: grid; grid-template-columns: 1fr 1fr; gap: 8mm; }
.balance > div { border-top: 1.2pt solid var(--ink); }
.balance h3 { margin-top: 1.5mm; }
.balance ul { margin: 0; padding-left: 4mm; font-size: 9.5pt; }
.balance li { margin-bottom: 1.2mm; break-inside: avoid; }
nav ol { columns: 2; column-gap: 8mm; margin: 0; padding-left: 6mm; }
nav { break-inside: avoid; margin-top: 3mm; border-top: 1.2pt solid var(--ink); }
nav a { color: inherit; text-decoration: none; border-bottom: .5pt dotted var(--soft); }
table { width: 100%; border-collapse: collapse; margin: 1mm 0 4mm; font-size: 8.8pt; line-height: 1.3; font-variant-numeric: tabular-nums; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th { text-align: left; font-weight: 600; padding: .8mm 2.5mm .8mm 0; border-bottom: .9pt solid var(--ink); vertical-align: bottom; }
td { padding: .9mm 2.5mm .9mm 0; border-bottom: .4pt solid var(--rule); vertical-align: top; overflow-wrap: break-word; }
th.number, td.number { text-align: right; white-space: nowrap; }
td.wide { min-width: 40%; }
td:last-child, th:last-child { padding-right: 0; }
.facts th { border-bottom: .4pt solid var(--rule); font-weight: 400; color: var(--soft); width: 42%; vertical-align: top; padding-top: .9mm; padding-bottom: .9mm; }
.facts, .message table { margin-bottom: 2mm; }
table.aligned { table-layout: fixed; }
tr.heading th { border-bottom: 0; padding-top: 2mm; font-size: 10pt; }
tr.heading small { font-weight: 400; color: var(--soft); font-size: 9pt; }
tr.heading code { margin-right: 1mm; }
tr.heading .remark { display: block; font-weight: 400; }
tbody tr:first-child { break-after: avoid; }
.place { white-space: normal; }
.remark, .source { color: var(--soft); font-size: 8.2pt; }
.whole { white-space: nowrap; }
.values { display: block; color: var(--soft); font-size: 8.2pt; }
.evidence p { margin: 0 0 .6mm; }
figure { margin: 2mm 0 4mm; break-inside: avoid; }
figure svg { display: block; width: 100%; height: auto; max-height: 200mm; }
figcaption { font-size: 8.8pt; color: var(--soft); margin-top: 1mm; }
figcaption b { color: var(--ink); }
.problems { padding-left: 6mm; font-size: 9pt; }
.problems li { break-inside: avoid; margin-bottom: 1mm; overflow-wrap: anywhere; }
.word { border: .7pt solid currentColor; border-radius: 1.5pt; padding: 0 .35em; font-size: 8pt; white-space: nowrap; }
.word.notShown, .word.proposed { border-style: dashed; color: var(--soft); }
.word.vacuous, .word.rejected { border-style: dotted; color: var(--soft); }
.word.failed { color: var(--accent); border-width: 1.4pt; font-weight: 600; }
@media print { body { max-width: none; padding: 0; } }
@media screen { section { margin-top: 3rem; } }
`;
