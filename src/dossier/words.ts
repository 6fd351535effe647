/** Numbers and short words as they are printed. */
import { type Html, html } from './html.ts';
import type { DossierObligation } from './input.ts';

/** Up to `digits` significant digits, thousands apart by a narrow space, a true minus sign. */
export function figure(value: number, digits = 4): string {
  const rounded = Number(value.toPrecision(digits));
  const [whole, part] = Math.abs(rounded).toString().split('.') as [string, string?];
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, '\u202f') : whole;
  return `${rounded < 0 ? '\u2212' : ''}${grouped}${part === undefined ? '' : `.${part}`}`;
}

/** A figure with its unit, apart by a space that does not break. */
export function measure(value: number, unit: string): string {
  return unit === '' ? figure(value) : `${figure(value)}\u00a0${unit}`;
}

/** m/s with km/h beside it. */
export function speed(mps: number): string {
  return `${measure(mps, 'm/s')} (${figure(mps * 3.6, 3)}\u00a0km/h)`;
}

/** The first twelve digits tell hashes apart; the whole stands in the index. */
export function shortHash(hash: string): Html {
  return html`<code>${hash.slice(0, 12)}</code>`;
}

export function dateWords(iso: string): string {
  return `${iso.slice(0, 10)}, ${iso.slice(11, 16)} UTC`;
}

const STATUS_WORDS: Record<DossierObligation['status'], string> = {
  proved: 'proved',
  failed: 'failed',
  notShown: 'not shown',
  vacuous: 'vacuous',
};

export function statusWord(status: DossierObligation['status']): Html {
  return html`<span class="word ${status}">${STATUS_WORDS[status]}</span>`;
}

export function stateWord(state: 'proposed' | 'accepted' | 'rejected'): Html {
  return html`<span class="word ${state}">${state}</span>`;
}
