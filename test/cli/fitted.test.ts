import { afterEach, expect, test, vi } from 'vitest';
import { COLUMNS, linesOf, printFitted, printSentence } from '../../src/cli/fitted.ts';

afterEach(() => vi.restoreAllMocks());

/** Lines that `work` prints on standard output. */
function printed(work: () => void): string[] {
  let text = '';
  vi.spyOn(process.stdout, 'write').mockImplementation((piece) => {
    text += piece;
    return true;
  });
  work();
  return text.trimEnd().split('\n');
}

test('a long sentence goes on in the next line, indented, and loses no word', () => {
  const words = Array.from({ length: 60 }, (_, k) => `word${k}`).join(' ');
  const lines = printed(() => printSentence('  ', words));
  expect(Math.max(...lines.map((l) => l.length))).toBeLessThanOrEqual(COLUMNS);
  expect(lines.map((l) => l.trim()).join(' ')).toBe(words);
  expect(lines[0]).toMatch(/^ {2}word0/);
  expect(lines[1]).toMatch(/^ {4}word/);
});

test('a word that is longer than a line stands alone', () => {
  expect(linesOf(`a ${'x'.repeat(30)} b`, 10, '')).toEqual(['a', 'x'.repeat(30), 'b']);
});

test('a table that is too wide breaks its widest cells at spaces; one that fits stays as it is', () => {
  const long = Array.from({ length: 30 }, () => 'signal').join(' ');
  const lines = printed(() => printFitted(['id', 'what', 'more'], [['0C4', long, 'some more words']]));
  expect(Math.max(...lines.map((l) => l.length))).toBeLessThanOrEqual(COLUMNS);
  expect(lines.join(' ').match(/signal/g)).toHaveLength(30);
  const short = printed(() => printFitted(['id', 'what'], [['0C4', 'speed']]));
  expect(short).toEqual(['id   what', '───  ─────', '0C4  speed']);
});
