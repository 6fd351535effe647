/** Real recordings beside the repository (`../shared/data`), in their common format `t,bus,id,ext,data`. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { FLAG } from '../../src/can/frame.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';

export const DATA = resolve('../shared/data');
export const DATA_IS_HERE = existsSync(DATA);

/** One or more recordings end to end; the clock runs backwards where one ends. */
export function readRecordings(...names: string[]): Capture {
  const builder = new CaptureBuilder();
  for (const name of names) addRecording(builder, resolve(DATA, name));
  return builder.finish();
}

function addRecording(builder: CaptureBuilder, path: string): void {
  const raw = readFileSync(path);
  const lines = (path.endsWith('.gz') ? gunzipSync(raw) : raw).toString('latin1').split('\n');
  const bytes = new Uint8Array(64);
  for (const line of lines.slice(1)) {
    const [t, bus, id, ext, data = ''] = line.trim().split(',');
    if (!t || !id) continue;
    const length = data.length / 2;
    for (let b = 0; b < length; b++) bytes[b] = Number.parseInt(data.slice(2 * b, 2 * b + 2), 16);
    const flags = ext === '1' ? FLAG.extended : 0;
    builder.add(Number(t), Number(bus), Number.parseInt(id, 16), flags, length, bytes, 0, length);
  }
}

/** The recordings of one folder, by name. */
export function recordingsIn(folder: string): string[] {
  return readdirSync(resolve(DATA, folder))
    .filter((file) => file.endsWith('.csv.gz'))
    .sort()
    .map((file) => `${folder}/${file}`);
}
