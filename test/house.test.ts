import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { expect, test } from 'vitest';

/** The floors of the house, lowest first: a room imports only from itself and from rooms before it. */
const FLOORS = [
  'can',
  'logic',
  'capture',
  'dictionary',
  'findings',
  'car',
  'bridge',
  'guard',
  'firmware',
  'faults',
  'wiring',
  'fit',
  'drives',
  'dossier',
  'build',
  'server',
  'cli',
];
/** Rooms of pure functions: no file, clock, network or process in them. */
const PURE = new Set(FLOORS.slice(0, FLOORS.indexOf('build')));
const SRC = resolve('src');

function sources(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return sources(path);
    return entry.name.endsWith('.ts') ? [path] : [];
  });
}

function imports(path: string): string[] {
  const text = readFileSync(path, 'utf8');
  return [...text.matchAll(/(?:from|import)\s*\(?\s*['"]([^'"]+)['"]/g)].map((m) => m[1] as string);
}

function roomOf(path: string): string {
  return relative(SRC, path).split(sep)[0] as string;
}

test('every room stands on a known floor', () => {
  const rooms = new Set(sources(SRC).map(roomOf));
  expect([...rooms].filter((room) => !FLOORS.includes(room))).toEqual([]);
});

test('imports run down: no room imports from a floor above its own', () => {
  const wrong = sources(SRC).flatMap((path) =>
    imports(path)
      .filter((target) => target.startsWith('.'))
      .map((target) => ({ path, to: roomOf(resolve(dirname(path), target)) }))
      .filter(({ to }) => FLOORS.indexOf(to) > FLOORS.indexOf(roomOf(path)))
      .map(({ to }) => `${relative(SRC, path)} imports from ${to}`),
  );
  expect(wrong).toEqual([]);
});

test('engines use no file, clock, network or process', () => {
  const ALLOWED = new Set(['node:zlib', 'node:crypto']);
  const wrong = sources(SRC)
    .filter((path) => PURE.has(roomOf(path)))
    .flatMap((path) =>
      imports(path)
        .filter((target) => target.startsWith('node:') && !ALLOWED.has(target))
        .map((target) => `${relative(SRC, path)} imports ${target}`),
    );
  expect(wrong).toEqual([]);
});
