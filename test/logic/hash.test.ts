import { expect, test } from 'vitest';
import { canonical, programHash } from '../../src/logic/hash.ts';
import { steeringLimiter } from './example.ts';

test('a program has the same hash whatever the order of its keys, and after a way through JSON', () => {
  const program = steeringLimiter();
  const turned = Object.fromEntries(Object.entries(program).reverse()) as unknown as typeof program;
  turned.nodes = program.nodes.map(
    (n) => Object.fromEntries(Object.entries(n).reverse()) as unknown as typeof n,
  );
  expect(Object.keys(turned)[0]).not.toBe(Object.keys(program)[0]);
  expect(programHash(turned)).toBe(programHash(program));
  expect(programHash(JSON.parse(JSON.stringify(program)))).toBe(programHash(program));
  expect(programHash(program)).toMatch(/^[0-9a-f]{64}$/);
});

test('a single changed limit, name or order changes the hash', () => {
  const program = steeringLimiter();
  const hashes = [
    (p: typeof program) => void (p.states[1]!.hi += 1),
    (p: typeof program) => void (p.inputs[0]!.name = 'then_ms'),
    (p: typeof program) => void p.outputs.reverse(),
  ].map((change) => {
    const copy = structuredClone(program);
    change(copy);
    return programHash(copy);
  });
  expect(new Set([programHash(program), ...hashes]).size).toBe(4);
});

test('the canonical text sorts keys and drops absent values', () => {
  expect(canonical({ b: [1, { d: 'x', c: true }], a: undefined, A: -3 })).toBe(
    '{"A":-3,"b":[1,{"c":true,"d":"x"}]}',
  );
});
