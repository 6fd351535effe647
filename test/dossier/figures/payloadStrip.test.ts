import { expect, test } from 'vitest';
import { payloadStrip } from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { columnMessage, emptyDocument, longMessage } from './samples.ts';

const document = emptyDocument();

test('a payload strip shows the bars of 64 bits and a bracket for each field', async () => {
  await expectPicture(payloadStrip(columnMessage, { document }), 'payload-strip');
});

test('with rising bits a little-endian field is one piece and a big-endian field is split', async () => {
  await expectPicture(payloadStrip(columnMessage, { document, layout: 'rising' }), 'payload-strip-rising');
});

test('a payload of more than eight bytes takes one row for every eight', async () => {
  const strip = payloadStrip(longMessage, { document });
  expect(textsOf(strip)).toContain('byte 15');
  expect(strip.querySelectorAll('svg > g')).toHaveLength(2);
  await expectPicture(strip, 'payload-strip-long');
});

test('only undecided fields have a dashed bracket, and the accessible name says so in words', () => {
  const strip = payloadStrip(columnMessage, { document });
  const dashed = [...strip.querySelectorAll('g[stroke-dasharray] title')].map((title) => title.textContent);
  expect(dashed).toEqual(['not enough to tell, undecided']);
  expect(strip.getAttribute('role')).toBe('img');
  expect(strip.getAttribute('aria-label')).toContain('a steering angle, °, accepted');
});

test('a bit that never changes is a ring, and a bit that changes once in ten thousand frames is still a bar', () => {
  const strip = payloadStrip(
    { name: 'x', flipRate: [0.0001, 0, 1, 0, 0, 0, 0, 0], fields: [] },
    { document },
  );
  expect(strip.querySelectorAll('circle')).toHaveLength(6);
  const heights = [...strip.querySelectorAll('rect')].map((bar) => Number(bar.getAttribute('height')));
  expect(heights).toEqual([66, 1.5]);
});

test('a message without payload draws an empty strip', () => {
  const strip = payloadStrip({ name: 'x', flipRate: [], fields: [] }, { document });
  expect(strip.getAttribute('aria-label')).toBe('Payload strip of x: 0 bits');
});
