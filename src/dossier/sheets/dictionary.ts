/** The dictionary: every accepted, proposed or rejected signal with its place, scale and evidence. */
import { formatId } from '../../can/frame.ts';
import type { Check, Counter, Dictionary, Message, Signal, StoredEvidence } from '../../dictionary/model.ts';
import { type Html, html } from '../html.ts';
import type { DossierInput } from '../input.ts';
import { type Numbering, note, sheet, table } from '../sheet.ts';
import { counted } from '../shown.ts';
import { figure, measure, stateWord } from '../words.ts';

export const dictionaryTitle = 'Messages and signals';

export function dictionarySheet(input: DossierInput, numbering: Numbering): Html {
  const number = numbering.sheet();
  return sheet({
    number,
    title: dictionaryTitle,
    lead: 'What the buses were found to carry. Each entry rests on the evidence beside it and was accepted by a person.',
    notes: [
      note(
        'Places',
        'Bit number = 8 × byte + bit in the byte; lowest bit of a little-endian field, highest of a big-endian one.',
      ),
      note('p', 'Probability that the finding is right, as it was worked out.'),
    ],
    body:
      input.dictionaries.length === 0
        ? html`<p>No bus has a dictionary yet.</p>`
        : html`${input.dictionaries.map(busPart)}`,
  });
}

const COLUMNS = [
  { title: 'signal', share: 19 },
  { title: 'place', share: 15 },
  { title: 'value', share: 22 },
  { title: 'state', share: 10 },
  { title: 'evidence', share: 34 },
];

function busPart(dictionary: Dictionary): Html {
  const { bus, messages } = dictionary;
  return html`<h3>Bus ${bus}</h3>
${messages.length === 0 ? html`<p>Nothing accepted yet.</p>` : messages.map(messagePart)}`;
}

function messagePart(message: Message): Html {
  const { name, id, extended, length, periodMs, sender, note: remark, counter, check, selector } = message;
  const timing = periodMs === null ? 'not periodic' : `every ${measure(periodMs, 'ms')}`;
  const rows = [
    ...message.signals.map(signalRow),
    ...(counter === undefined ? [] : [counterRow(counter)]),
    ...(check === undefined ? [] : [checkRow(check)]),
  ];
  const words = [
    timing,
    counted(length, 'byte'),
    sender === undefined ? 'sender not known' : `from ${sender}`,
    selector === undefined ? '' : `selector at ${place(selector)}`,
  ];
  const title = html`<code>${formatId(id, extended)}</code> ${name} <small>${words.filter(Boolean).join(' · ')}</small>`;
  const about = remark === undefined ? null : html`<span class="remark">${remark}</span>`;
  return html`<div class="message">${
    rows.length === 0
      ? html`<h4>${title}</h4><p class="remark">No signal yet. ${about}</p>`
      : table(COLUMNS, rows, html`${title}${about}`)
  }</div>
`;
}

function signalRow(signal: Signal): (Html | string)[] {
  return [
    signal.name,
    html`<span class="place">${place(signal)}${signal.selectorValue === undefined ? '' : `, selector ${signal.selectorValue}`}</span>`,
    valueCell(signal),
    stateWord(signal.state),
    evidenceCell(signal.evidence, signal.note),
  ];
}

function counterRow(counter: Counter): (Html | string)[] {
  const skips = counter.skip.length === 0 ? '' : `, never ${counter.skip.join(', ')}`;
  const step = counter.step < 0 ? figure(counter.step) : `+${counter.step}`;
  return [
    'counter',
    place(counter),
    `${step} each frame${skips}`,
    stateWord('accepted'),
    evidenceCell(counter.evidence),
  ];
}

function checkRow(check: Check): (Html | string)[] {
  return [
    'check field',
    place(check),
    checkWords(check),
    stateWord('accepted'),
    evidenceCell(check.evidence),
  ];
}

function place(field: { start: number; length: number; byteOrder: 'little' | 'big' }): string {
  const order =
    field.length === 1 ? '' : field.byteOrder === 'big' ? ', big\u2011endian' : ', little\u2011endian';
  return `bit ${field.start}, ${counted(field.length, 'bit')}${order}`;
}

function valueCell(signal: Signal): Html {
  const { scale, offset, unit, min, max, signed, values } = signal;
  const parts: string[] = signal.length === 1 && values === undefined ? ['flag'] : [];
  if (signed !== false) parts.push(signed === true ? 'signed' : 'sign and magnitude');
  if (scale !== 1 || unit !== '') parts.push(`${measure(scale, unit)} per step`);
  if (offset !== 0) parts.push(`offset ${measure(offset, unit)}`);
  if (min !== undefined || max !== undefined) parts.push(rangeWords(min, max, unit));
  const names = Object.entries(values ?? {}).map(([rawValue, name]) => `${rawValue} ${name}`);
  return html`${parts.join('; ')}${names.length === 0 ? null : html`<span class="values">${names.join(' · ')}</span>`}`;
}

function rangeWords(min: number | undefined, max: number | undefined, unit: string): string {
  if (min === undefined) return `believed up to ${measure(max as number, unit)}`;
  if (max === undefined) return `believed from ${measure(min, unit)}`;
  return `believed from ${figure(min)} to ${measure(max, unit)}`;
}

function checkWords(check: Check): string {
  const word = (value: number) =>
    `0x${value
      .toString(16)
      .toUpperCase()
      .padStart(Math.ceil(check.width / 4), '0')}`;
  const kind = {
    crc: `CRC-${check.width}, polynomial ${word(check.poly)}, start ${word(check.init)}, final ${word(check.xorout)}${check.reflected ? ', reflected' : ''}`,
    xor: 'exclusive-or of bytes',
    sum: `sum of bytes, ${check.width} bits`,
    sumComplement: `complement of the sum, ${check.width} bits`,
    nibbleSum: 'sum of half bytes',
  }[check.algorithm];
  const extra = [
    `over bytes ${check.covers.join(', ')}`,
    check.idBytes.length > 0 ? 'identifier folded in' : '',
    check.perCounter === null ? '' : 'a constant per counter value folded in',
  ];
  return [kind, ...extra].filter(Boolean).join('; ');
}

function evidenceCell(evidence: StoredEvidence[] | undefined, remark?: string): Html {
  const entries = evidence ?? [];
  const lines = entries.map((e, i) => {
    const sure = e.probability === undefined ? '' : `p ${e.probability.toFixed(2)}`;
    const last = entries[i + 1]?.capture !== e.capture;
    const source = [sure, last ? (e.capture ?? '') : ''].filter(Boolean).join(' · ');
    return html`<p>${e.text}${source === '' ? null : html` <span class="source whole">${source}</span>`}</p>`;
  });
  if (lines.length === 0) lines.push(html`<p><span class="word notShown">none</span></p>`);
  return html`<div class="evidence">${lines}${remark ? html`<p class="source">${remark}</p>` : null}</div>`;
}
