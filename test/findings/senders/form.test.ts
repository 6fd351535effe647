import { expect, test } from 'vitest';
import { sendersForm } from '../../../src/findings/senders/form.ts';
import type { Senders } from '../../../src/findings/senders/index.ts';

const message = { bus: 1, extended: false, frames: 50, periodMs: 10, notPlaced: null, reason: null };

const SENDERS: Senders = {
  messages: [
    { ...message, id: 0xde },
    { ...message, id: 0xee },
    { ...message, id: 0x101 },
    { ...message, id: 0x18fee123, extended: true, periodMs: null, notPlaced: 'tooFew', reason: 'why' },
  ],
  groups: [
    {
      messages: [0, 1],
      belongs: [0.991234, 0.991234],
      probability: 0.991234,
      tickMs: 10,
      phaseMs: [0, 1.23456],
    },
    { messages: [2], belongs: [1], probability: 1, tickMs: null, phaseMs: [null] },
  ],
  pairs: [
    { a: 0, b: 1, probability: 0.991234, word: 'oneClock', driftPpm: 0.01, errorPpm: 0.1, sharedSilences: 0 },
    { a: 0, b: 2, probability: 0.005, word: 'noSign', driftPpm: 80, errorPpm: 0.1, sharedSilences: 0 },
  ],
  units: { low: 2, likely: 2, high: 3 },
  follows: [],
  limit: null,
};

test('senders are identifiers by clock, as the exchange form has them', () => {
  const { senders } = sendersForm(SENDERS);
  expect(senders).toEqual([['0DE', '0EE'], ['101']]);
});

test('the evidence names bus and identifier, and leaves out pairs without a sign', () => {
  const { senderEvidence } = sendersForm(SENDERS);
  expect(senderEvidence.groups[0]?.messages[1]).toEqual({
    bus: 1,
    id: '0EE',
    probability: 0.9912,
    phaseMs: 1.235,
  });
  expect(senderEvidence.pairs).toHaveLength(1);
  expect(senderEvidence.notPlaced).toEqual([{ bus: 1, id: '18FEE123', why: 'tooFew', reason: 'why' }]);
  expect(JSON.parse(JSON.stringify(senderEvidence))).toEqual(senderEvidence);
});
