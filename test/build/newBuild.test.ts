import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { loadBuild } from '../../src/build/load.ts';
import { createBuild, NewBuildError } from '../../src/build/newBuild.ts';
import { problemSentence } from '../../src/build/problem.ts';
import { folderWith } from './folder.ts';

test('a new build asks for each figure it needs, with its unit, and for nothing else', async () => {
  const folder = join(folderWith({}), 'van');
  const files = await createBuild(folder, 'Van: "by wire"');
  expect(files).toContain('build.yaml');
  for (const file of files) expect(existsSync(join(folder, file))).toBe(true);
  const { problems } = await loadBuild(folder);
  expect(problems.map((p) => p.field)).toEqual([
    'host.name',
    'host.mass_kg',
    'host.yaw_inertia_kgm2',
    'host.wheelbase_m',
    'host.cg_to_front_m',
    'host.front_stiffness_n_per_rad',
    'host.rear_stiffness_n_per_rad',
    'host.steering_ratio',
    'host.width_m',
    'buses[0].bit_rate_bps',
  ]);
  expect(problemSentence(problems[1]!)).toBe(
    'build.yaml:8:3: host.mass_kg: found nothing; expected a number of kg from 200 to 20000 (as driven: with driver, parts and usual load).',
  );
});

test('with its figures filled in, a new build has no problem and keeps its title', async () => {
  const folder = folderWith({});
  await createBuild(folder, 'Van: "by wire" # 2');
  const figures: Record<string, string> = {
    'name:  ': 'name: Wagtail',
    mass_kg: '2150',
    yaw_inertia_kgm2: '4300',
    wheelbase_m: '3.2',
    cg_to_front_m: '1.45',
    front_stiffness_n_per_rad: '110000',
    rear_stiffness_n_per_rad: '120000',
    steering_ratio: '18.5',
    width_m: '1.9',
    bit_rate_bps: '500000',
  };
  for (const file of ['build.yaml', 'buses.yaml']) {
    let text = readFileSync(join(folder, file), 'utf8');
    for (const [name, value] of Object.entries(figures)) {
      if (name.startsWith('name')) text = text.replace('  name:  ', '  name: Wagtail');
      else text = text.replace(`${name}:`, `${name}: ${value}`);
    }
    writeFileSync(join(folder, file), text.replace('name: Wagtail: ', 'name: '));
  }
  const { build, problems } = await loadBuild(folder);
  expect(problems.map(problemSentence)).toEqual([]);
  expect(build?.file.title).toBe('Van: "by wire" # 2');
});

test('a folder that holds anything is left as it is; a version-control folder does not count', async () => {
  const folder = folderWith({ 'notes.txt': 'mine' });
  await expect(createBuild(folder, 'x')).rejects.toThrow(
    'is not empty (it holds notes.txt): nothing was written',
  );
  expect(readdirSync(folder)).toEqual(['notes.txt']);
  await expect(createBuild(join(folder, 'notes.txt'), 'x')).rejects.toThrow('is a file');
  await expect(createBuild(join(folder, 'new'), ' ')).rejects.toBeInstanceOf(NewBuildError);
  const versioned = folderWith({});
  mkdirSync(join(versioned, '.git'));
  expect(await createBuild(versioned, 'x')).toContain('units.yaml');
});

test('editors are pointed to the schema only from a build inside the program itself', async () => {
  const outside = folderWith({});
  await createBuild(outside, 'x');
  expect(readFileSync(join(outside, 'build.yaml'), 'utf8')).not.toContain('$schema');
});
