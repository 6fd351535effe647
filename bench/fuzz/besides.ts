/** What is read beside recordings: reference channels as delimited text and as tracks, and cue sheets in CSV. */
import { parseCueCsv } from '../../src/build/cueCsv.ts';
import { CaptureError } from '../../src/capture/error.ts';
import { readReferenceCsv } from '../../src/capture/reference/csv.ts';
import { readGpx } from '../../src/capture/reference/gpx.ts';
import type { ReferenceRead } from '../../src/capture/reference/model.ts';
import { randomOf } from './random.ts';
import type { Target, WholeRead } from './targets.ts';

export function besides(): Target[] {
  return [
    { name: 'reference text', seeds: TEXTS, whole: async (bytes) => judged(readReferenceCsv(textOf(bytes))) },
    { name: 'track', seeds: TRACKS, whole: async (bytes) => judged(readGpx(textOf(bytes))) },
    { name: 'cue sheet', seeds: CUES, whole: async (bytes) => judgedCues(textOf(bytes)) },
  ];
}

/** A reading refuses by saying why; what it gives has a value for every time, and its times rise. */
function judged({ series, problems }: ReferenceRead): WholeRead {
  const wrong = problems.filter(({ weight }) => weight !== 'caution');
  if (series.length === 0) {
    if (wrong.length === 0) return { count: 0, nonsense: 'nothing was read and nothing is said about it' };
    throw new CaptureError(`Refused: ${wrong[0]?.found.replace(/\s+/g, ' ')}.`);
  }
  for (const { name, timeS, value } of series) {
    if (timeS.length !== value.length)
      return { count: 0, nonsense: `${name}: ${timeS.length} times, ${value.length} values` };
    for (let i = 0; i < timeS.length; i++) {
      const t = timeS[i] as number;
      if (!Number.isFinite(t) || (i > 0 && t <= (timeS[i - 1] as number)))
        return { count: 0, nonsense: `${name}: time ${t} at place ${i}` };
      const v = value[i] as number;
      if (!Number.isFinite(v) && !Number.isNaN(v))
        return { count: 0, nonsense: `${name}: value ${v} at place ${i}` };
    }
  }
  return { count: series.reduce((sum, { timeS }) => sum + timeS.length, 0), nonsense: '' };
}

/** What is no cue is said with its place; what is one has a name and times that are numbers. */
function judgedCues(text: string): WholeRead {
  const { tables, problems } = parseCueCsv('cues/monday.csv', text, 'monday.pcapng');
  const cues = tables.flatMap(({ sheet }) => sheet.cues);
  if (cues.length === 0) {
    if (problems.length > 0) throw new CaptureError(`Refused: ${problems[0]?.found.replace(/\s+/g, ' ')}.`);
    return { count: 0, nonsense: '' };
  }
  const wrong = cues.find(
    ({ name, startS, endS }) => name === '' || !Number.isFinite(startS) || !Number.isFinite(endS),
  );
  return { count: cues.length, nonsense: wrong ? `the cue ${JSON.stringify(wrong)}` : '' };
}

function textOf(bytes: Uint8Array): string {
  return new TextDecoder('utf-8').decode(bytes);
}

const random = randomOf(20080611, 99);
const rows = Array.from({ length: 40 }, (_, i) => [i * 0.1, random.unit() * 30, random.unit() * 100 - 50]);
const bytesOf = (text: string) => new TextEncoder().encode(text);

const TEXTS: readonly Uint8Array[] = [
  `time [s],speed [km/h],angle [deg]\n${rows.map((row) => row.map((v) => v.toFixed(3)).join(',')).join('\n')}\n`,
  `Zeit;Druck [bar]\r\n${rows.map(([t = 0, v = 0]) => `${(1000 * t).toFixed(0)};${v.toFixed(2).replace('.', ',')}`).join('\r\n')}`,
  `t\tforce (N)\n${rows.map(([t = 0, v]) => `09:30:${t.toFixed(1).padStart(4, '0')}\t${v}`).join('\n')}`,
  `timestamp,"pedal, left [V]"\n${rows.map(([t = 0, v]) => `2026-05-12T09:30:${t.toFixed(1).padStart(4, '0')}Z,"${v}"`).join('\n')}`,
].map(bytesOf);

const TRACKS: readonly Uint8Array[] = [
  (t: number, v: number) =>
    `<trkpt lat="${50 + t / 1e4}" lon="7"><ele>${v}</ele><time>2026-05-12T09:30:${t.toFixed(1).padStart(4, '0')}Z</time></trkpt>`,
  (t: number, v: number) =>
    `<trkpt lat="50" lon="${7 + t / 1e4}"><time>2026-05-12T09:30:${t.toFixed(1).padStart(4, '0')}Z</time><extensions><x:speed>${v}</x:speed><x:course>90</x:course></extensions></trkpt>`,
].map((point) =>
  bytesOf(
    `<?xml version="1.0"?>\n<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x"><trk><trkseg>${rows.map(([t = 0, v = 0]) => point(t, v)).join('\n')}</trkseg></trk></gpx>`,
  ),
);

const CUES: readonly Uint8Array[] = [
  `name,start_s,end_s,level,note\n${rows.map(([t = 0, v = 0], i) => `turn ${i % 3},${t.toFixed(2)},${(t + 0.05).toFixed(2)},${v.toFixed(1)},"left, then right"`).join('\n')}\n`,
  `capture;name;start_s;end_s\n${rows.map(([t = 0], i) => `drive-${i % 2}.pcapng;brake;${t.toFixed(1).replace('.', ',')};${(t + 1).toFixed(1).replace('.', ',')}`).join('\r\n')}`,
].map(bytesOf);
