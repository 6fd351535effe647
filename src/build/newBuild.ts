/** Starts a build: a folder of commented text files in which what is not known yet is blank, and `check` asks for it. */
import { mkdir, readdir, rm, rmdir, writeFile } from 'node:fs/promises';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { codeOf } from './disk.ts';
import { blockText } from './edit.ts';
import { packageRoot } from './packageRoot.ts';

/** The folder could not be started; nothing is left of the attempt. */
export class NewBuildError extends Error {
  override name = 'NewBuildError';
}

/**
 * Writes a starter build into a new or empty folder (one that only holds `.git` counts as empty) and returns the paths
 * of the files, relative to it. No figure is invented: each is blank with its unit and where one finds it.
 */
export async function createBuild(folder: string, title: string): Promise<string[]> {
  if (folder.trim() === '') throw new NewBuildError('a build needs a folder: give it a name');
  if (title.trim() === '') throw new NewBuildError('a build needs a title: what the conversion is called');
  const root = resolve(folder);
  const existed = await emptyOrMissing(root, folder);
  const files = starterFiles(title.trim(), root);
  const made: string[] = [];
  try {
    for (const [name, text] of Object.entries(files)) {
      const path = join(root, name);
      await mkdir(dirname(path), { recursive: true });
      await writeFile(path, text, { flag: 'wx' });
      made.push(name);
    }
  } catch (error) {
    for (const name of Object.keys(files)) {
      if (made.includes(name) || codeOf(error) !== 'EEXIST') await rm(join(root, name), { force: true });
      if (name.includes('/')) await rmdir(dirname(join(root, name))).catch(() => undefined);
    }
    if (!existed) await rmdir(root).catch(() => undefined);
    throw new NewBuildError(failure(folder, codeOf(error)));
  }
  return made;
}

async function emptyOrMissing(root: string, given: string): Promise<boolean> {
  let names: string[];
  try {
    names = await readdir(root);
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return false;
    if (codeOf(error) === 'ENOTDIR')
      throw new NewBuildError(`${given} is a file: choose the name of a folder that is new or empty`);
    throw new NewBuildError(failure(given, codeOf(error)));
  }
  const there = names.filter((name) => name !== '.git');
  if (there.length > 0) {
    const shown = there.slice(0, 3).join(', ');
    throw new NewBuildError(
      `${given} is not empty (it holds ${shown}${there.length > 3 ? ', …' : ''}): nothing was written; choose a folder that is new or empty`,
    );
  }
  return true;
}

function failure(folder: string, code: string): string {
  if (code === 'ENOSPC')
    return `${folder} could not be written because the disk is full: nothing is left of it`;
  if (code === 'EACCES' || code === 'EPERM')
    return `${folder} could not be written: this user may not write there`;
  return `${folder} could not be written (${code}): nothing is left of it`;
}

function starterFiles(title: string, root: string): Record<string, string> {
  const head = (kind: string) => schemaComment(root, kind);
  return {
    'build.yaml': `${head('build')}# The conversion and the car. Blank figures are questions: \`bywright check\` lists them.
form: build/1
${blockText({ title }, 0)}
stage: bench     # bench, stand, closed course or road: how far this build has been shown

host:            # the car that is converted; as driven, with its parts, driver and usual load
  name:                        # what you call it
  mass_kg:                     # kg; sum of the four wheel loads on a weighbridge
  yaw_inertia_kgm2:            # kg·m², about the vertical axis; from a swing test, or mass × (wheelbase / 2)² as a first figure
  wheelbase_m:                 # m; from the registration papers or measured between the axle centres
  cg_to_front_m:               # m, centre of gravity behind the front axle; wheelbase × rear axle load / mass
  front_stiffness_n_per_rad:   # N/rad, both front tyres together; from tyre data or a fit of a steady bend
  rear_stiffness_n_per_rad:    # N/rad, both rear tyres together
  steering_ratio:              # steering wheel angle over road wheel angle; turn plates, lock to lock
  width_m:                     # m, without mirrors
`,
    'buses.yaml': `${head('buses')}# The buses that were recorded or are bridged. Names are used in all other files.
form: buses/1
buses:
  - name: chassis    # lower-case letters, digits and -
    number: 0        # bus number in the captures
    bit_rate_bps:    # bits per second; from the data sheet, or an oscilloscope (the shortest bit of 2 µs is 500000)
`,
    'units.yaml': `${head('units')}# Who hangs on which bus: ECUs, sensors, actuators, the gateway and the controller.
form: units/1
units:
  - name: gateway
    role: gateway      # host, donor, gateway or controller
    part: microcontroller between the buses
    buses: [chassis]
`,
    'dictionary/chassis.yaml': `${head('dictionary')}# Messages and signals of bus chassis that you accepted. \`bywright find\` proposes them from captures.
form: dictionary/1
bus: chassis
messages: []
`,
    'captures/README.txt': `Recordings of the buses go here (pcap, pcapng, MDF 4, Parquet, text with columns; also packed with gzip): \`bywright import\` puts them in.
What was done when during a recording goes into ../cues/<name>.yaml:

form: cues/1
capture: 01-idle.pcapng
cues:
  - {name: brake pressed, start_s: 12.5, end_s: 14.0}

or into ../cues/01-idle.csv, with the columns name,start_s,end_s,level,note.
`,
    'reference/README.txt': `What was measured beside a recording goes here: a file in CSV (one column of times) or GPX as the recorder wrote it, and a
text file <name>.yaml for each channel of it:

form: reference/1
name: satellite speed
unit: km/h
capture: 01-idle.pcapng
file: receiver.csv        # in this folder
column: speed [m/s]       # its header; of a GPX track speed, heading or altitude

\`bywright align\` finds how its clock runs against that of the recording, and writes it there once you accept it.
Readings typed from a gauge need no file: in place of file and column, points with the time after the first frame in s:

points:
  - [12.5, 3.1]
`,
    '.gitignore': '.cache/\n*.tmp\n',
  };
}

/**
 * Lets editors check a file while it is written. The address is relative, so it holds only for a build inside the
 * program's own folder; elsewhere it is left out rather than tie the build to one computer.
 */
function schemaComment(root: string, kind: string): string {
  const program = packageRoot();
  if (!root.startsWith(program + sep)) return '';
  const folder = kind === 'dictionary' ? join(root, 'dictionary') : root;
  const path = relative(folder, join(program, 'schemas', `${kind}.schema.json`)).replaceAll(sep, '/');
  return `# yaml-language-server: $schema=${path}\n`;
}
