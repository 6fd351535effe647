import { expect, test } from 'vitest';
import type { ProofForm } from '../../src/server/api.ts';
import { obligationGroups } from '../../web/obligations.ts';

type Obligation = ProofForm['obligations'][number];

const obligation = (name: string, status: Obligation['status'] = 'proved'): Obligation => ({
  name,
  sentence: '',
  status,
  seconds: 0,
  hash: '',
  counterexample: null,
  note: '',
});

test('what is not proved stands first, failures before all, then kinds, then ranges', () => {
  const groups = obligationGroups([
    obligation('range.mode'),
    obligation('level'),
    obligation('release.stop'),
    obligation('arm.press', 'vacuous'),
    obligation('slew', 'failed'),
    obligation('release.button'),
  ]);
  expect(groups.map(({ title, obligations }) => [title, obligations.map(({ name }) => name)])).toEqual([
    ['not proved', ['slew', 'arm.press']],
    ['', ['level']],
    ['release', ['release.stop', 'release.button']],
    ['range', ['range.mode']],
  ]);
});
