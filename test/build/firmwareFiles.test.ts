import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { writeProject } from '../../src/build/firmwareFiles.ts';
import { SaveError } from '../../src/build/save.ts';
import { folderWith } from './folder.ts';

const project = (version: string) =>
  ['README.md', 'gateway.h', 'gateway.c', 'Makefile'].map((path) => ({
    path,
    content: `${path} ${version}`,
  }));
/** No disk takes a name this long. */
const IMPOSSIBLE = { path: 'x'.repeat(300), content: '' };

function content(folder: string): Record<string, string> {
  return Object.fromEntries(
    readdirSync(folder).map((name) => [name, readFileSync(join(folder, name), 'utf8')]),
  );
}

const asWritten = (version: string) =>
  Object.fromEntries(project(version).map(({ path, content }) => [path, content]));

test('a project is written into a new folder, and an earlier one is replaced, beside files of the user', async () => {
  const folder = join(folderWith({}), 'deep', 'firmware');
  await writeProject(folder, project('1'));
  expect(content(folder)).toEqual(asWritten('1'));
  writeFileSync(join(folder, 'port_mine.c'), 'mine');
  await writeProject(folder, project('2'));
  expect(content(folder)).toEqual({ ...asWritten('2'), 'port_mine.c': 'mine' });
});

test('where one file cannot be written, the earlier project stays whole and a new folder is not left behind', async () => {
  const parent = folderWith({});
  const folder = join(parent, 'firmware');
  const refused = () => writeProject(folder, [...project('2'), IMPOSSIBLE]);
  await expect(refused()).rejects.toThrow(SaveError);
  expect(readdirSync(parent)).toEqual([]);
  await writeProject(folder, project('1'));
  await expect(refused()).rejects.toThrow(/firmware.x+ could not be saved/);
  expect(content(folder)).toEqual(asWritten('1'));
});

test('a replacement that breaks off in the middle leaves no header, so that old and new code never compile together', async () => {
  const folder = folderWith({});
  await writeProject(folder, project('1'));
  mkdirSync(join(folder, 'Makefile.d'));
  // A folder that is not empty cannot be replaced by a file.
  writeFileSync(join(folder, 'Makefile.d/kept'), '');
  const clash = { path: 'Makefile.d', content: 'x' };
  await expect(writeProject(folder, [clash, ...project('2')])).rejects.toThrow(SaveError);
  expect(readdirSync(folder)).not.toContain('gateway.h');
  await writeProject(folder, project('2'));
  expect(readFileSync(join(folder, 'gateway.h'), 'utf8')).toBe('gateway.h 2');
});

test('a folder that holds anything else is left alone', async () => {
  const folder = folderWith({ 'build.yaml': 'x' });
  await expect(writeProject(folder, project('1'))).rejects.toThrow(/no project of this tool/);
  await expect(writeProject(join(folder, 'build.yaml'), project('1'))).rejects.toThrow(/is a file/);
  expect(content(folder)).toEqual({ 'build.yaml': 'x' });
});
