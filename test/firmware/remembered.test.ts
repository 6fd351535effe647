import { expect, test } from 'vitest';
import { armingRefusals } from '../../src/firmware/provenance.ts';
import { provedFor } from './harness.ts';
import { van } from './van.ts';

test('an armable project is refused where its proof rests on verdicts that were kept from an earlier one', () => {
  const { gateway } = van();
  const provenance = provedFor(gateway);
  expect(armingRefusals(gateway, provenance)).toEqual([]);
  const kept = { ...provenance, proofs: provenance.proofs.map((proof) => ({ ...proof, remembered: 3 })) };
  expect(armingRefusals(gateway, kept)).toEqual([
    'the proof of guard rests on verdicts kept from an earlier one (3); prove it with --fresh',
  ]);
});
