import { expect, test } from 'vitest';
import { payloadFingerprint } from '../../../src/dossier/figures/index.ts';
import { expectPicture } from './picture.ts';
import { columnMessage, emptyDocument } from './samples.ts';

test('a fingerprint shows the bars alone and says how many bits move', async () => {
  const small = payloadFingerprint(columnMessage, { document: emptyDocument() });
  expect(small.getAttribute('aria-label')).toBe('1A2: 36 of 64 bits change');
  await expectPicture(small, 'payload-fingerprint');
});

test('a short message leaves the place of the missing bytes empty', () => {
  const small = payloadFingerprint(
    { name: 'x', flipRate: new Array(16).fill(0.5) },
    { document: emptyDocument() },
  );
  expect(small.querySelectorAll('path')).toHaveLength(2);
  expect(small.getAttribute('width')).toBe('220');
});
