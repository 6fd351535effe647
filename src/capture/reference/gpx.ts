/**
 * Reads a track of a satellite receiver in GPX 1.1 (topografix.com/GPX/1/1): speed, heading and altitude over time.
 * Speed and heading come from the extension elements `speed` (m/s) and `course` (degrees) where every second point has
 * them, else from great-circle distance and bearing between neighbouring points.
 */
import { SaxesParser } from 'saxes';
import { ProblemList, type ReferenceRead, type ReferenceSeries, shown } from './model.ts';
import { dateNs } from './times.ts';

interface Point {
  line: number;
  column: number;
  lat: number;
  lon: number;
  ns: bigint | null;
  speed: number;
  course: number;
  altitude: number;
  /** First point of its segment: nothing is known of the time before it. */
  starts: boolean;
}

/** Mean radius of the earth, m (IUGG). */
const EARTH_M = 6_371_008.8;
const RADIANS = Math.PI / 180;
/** Below this speed the bearing between two points is noise, m/s; common practice, no source. */
const HEADING_FROM_MPS = 1;
/** Between points further apart than this the track was interrupted, s. */
const GAP_S = 10;
/** Characters that the parser gets at a time. */
const PIECE = 4096;

/** Never throws; text that is no XML gives what stood before the break, and the break with line and column. */
export function readGpx(text: string): ReferenceRead {
  const problems = new ProblemList();
  const points = trackPoints(text, problems);
  const kept = inOrder(points, problems);
  const originNs = kept[0]?.ns ?? null;
  if (originNs === null) {
    const found = points.length === 0 ? 'no track points (trkpt)' : 'track points without time';
    problems.error(0, 0, found, 'a GPX 1.1 track whose points hold lat, lon and time');
    return { series: [], guess: 'no track', confidence: 0, problems: problems.finish() };
  }
  const told = (key: 'speed' | 'course') =>
    kept.filter((p) => Number.isFinite(p[key])).length >= kept.length / 2;
  const build = (name: string, unit: string, samples: Sample[]): ReferenceSeries => ({
    name,
    unit,
    timeS: Float64Array.from(samples, (s) => s.t),
    value: Float64Array.from(samples, (s) => s.value),
    originNs,
  });
  const timeOf = (p: Point) => Number((p.ns as bigint) - originNs) / 1e9;
  const [speedTold, courseTold] = [told('speed'), told('course')];
  const series = [
    build('speed', 'm/s', speedTold ? asTold(kept, timeOf, 'speed') : between(kept, timeOf, 'speed')),
    build('heading', 'deg', courseTold ? asTold(kept, timeOf, 'course') : between(kept, timeOf, 'heading')),
    ...(kept.some((p) => Number.isFinite(p.altitude))
      ? [build('altitude', 'm', asTold(kept, timeOf, 'altitude'))]
      : []),
  ].filter((s) => s.timeS.length > 0);
  if (series.length === 0)
    problems.error(
      0,
      0,
      'no two track points that follow each other',
      'points at most 10 s apart, or points that hold a speed',
    );
  const how = speedTold ? 'speed as the receiver gave it' : 'speed from the distance between points';
  return {
    series,
    guess: `${kept.length} track points with dates; ${how}`,
    confidence: 1,
    problems: problems.finish(),
  };
}

interface Sample {
  t: number;
  value: number;
}

function asTold(
  points: readonly Point[],
  timeOf: (p: Point) => number,
  key: 'speed' | 'course' | 'altitude',
): Sample[] {
  return withGaps(
    points,
    timeOf,
    points.map((p) => ({ t: timeOf(p), value: p[key] })),
  );
}

/** An empty sample between segments, so that nobody draws a line across. */
function withGaps(points: readonly Point[], timeOf: (p: Point) => number, samples: Sample[]): Sample[] {
  return samples.flatMap((sample, i) => {
    if (i === 0 || !points[i]?.starts) return [sample];
    const t = (timeOf(points[i - 1] as Point) + sample.t) / 2;
    return t > timeOf(points[i - 1] as Point) && t < sample.t ? [{ t, value: Number.NaN }, sample] : [sample];
  });
}

/** One sample in the middle between two neighbours; an empty one where the track was interrupted. */
function between(
  points: readonly Point[],
  timeOf: (p: Point) => number,
  what: 'speed' | 'heading',
): Sample[] {
  const samples: Sample[] = [];
  for (let i = 1; i < points.length; i++) {
    const [a, b] = [points[i - 1] as Point, points[i] as Point];
    const [ta, tb] = [timeOf(a), timeOf(b)];
    const t = (ta + tb) / 2;
    const mps = greatCircleM(a, b) / (tb - ta);
    const gap = b.starts || tb - ta > GAP_S || !Number.isFinite(mps);
    const known = what === 'speed' ? mps : mps >= HEADING_FROM_MPS ? bearingDeg(a, b) : Number.NaN;
    samples.push({ t, value: gap ? Number.NaN : known });
  }
  return samples;
}

/** Haversine formula (R. W. Sinnott, Sky and Telescope 68, 1984). */
export function greatCircleM(a: { lat: number; lon: number }, b: { lat: number; lon: number }): number {
  const [p, q] = [a.lat * RADIANS, b.lat * RADIANS];
  const h =
    Math.sin((q - p) / 2) ** 2 + Math.cos(p) * Math.cos(q) * Math.sin(((b.lon - a.lon) * RADIANS) / 2) ** 2;
  return 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(h)));
}

/** Initial bearing from a to b, degrees from north, clockwise, 0 … 360. */
export function bearingDeg(a: { lat: number; lon: number }, b: { lat: number; lon: number }): number {
  const [p, q, d] = [a.lat * RADIANS, b.lat * RADIANS, (b.lon - a.lon) * RADIANS];
  const y = Math.sin(d) * Math.cos(q);
  const x = Math.cos(p) * Math.sin(q) - Math.sin(p) * Math.cos(q) * Math.cos(d);
  return (Math.atan2(y, x) / RADIANS + 360) % 360;
}

function inOrder(points: readonly Point[], problems: ProblemList): Point[] {
  const kept: Point[] = [];
  let starts = false;
  for (const p of points) {
    starts ||= p.starts;
    if (p.ns === null) {
      problems.caution(
        'point without time',
        p.line,
        p.column,
        'a track point without a readable time',
        'a time such as 2026-05-12T09:30:00Z; the point is left out',
      );
      continue;
    }
    const before = kept.at(-1)?.ns ?? null;
    if (before !== null && p.ns <= before) {
      const [kind, found] =
        p.ns === before
          ? ['repeated time', 'the time of the point before, a second time']
          : ['time running backwards', 'a time before that of the point before'];
      problems.caution(
        kind as string,
        p.line,
        p.column,
        found as string,
        'times that rise; the point is left out',
      );
      continue;
    }
    kept.push({ ...p, starts });
    starts = false;
  }
  return kept;
}

function trackPoints(text: string, problems: ProblemList): Point[] {
  const points: Point[] = [];
  const parser = new SaxesParser({ position: true });
  let point: Point | null = null;
  let value = '';
  let starts = true;
  let broken = false;
  parser.on('error', (error) => {
    if (broken) return;
    broken = true;
    const words = error.message.replace(/^[^:]*:?\d+:\d+: /, '').replace(/\.$/, '');
    const found = `broken XML: ${words}`;
    const what = {
      line: parser.line,
      column: Math.max(1, parser.column),
      expected: 'well-formed XML; what stands before is used',
    };
    problems.caution('broken XML', what.line, what.column, found, what.expected);
  });
  parser.on('opentag', ({ name, attributes }) => {
    if (broken) return;
    value = '';
    const local = localName(name);
    if (local === 'trkseg') starts = true;
    if (local !== 'trkpt') return;
    const [lat, lon] = [
      coordinate(String(attributes['lat'] ?? ''), 90),
      coordinate(String(attributes['lon'] ?? ''), 180),
    ];
    const [line, column] = [parser.line, Math.max(1, parser.column)];
    if (!Number.isFinite(lat) || !Number.isFinite(lon))
      problems.caution(
        'place',
        line,
        column,
        `lat ${shown(String(attributes['lat'] ?? ''))}, lon ${shown(String(attributes['lon'] ?? ''))}`,
        'degrees: lat −90 … 90, lon −180 … 180',
      );
    point = {
      line,
      column,
      lat,
      lon,
      ns: null,
      speed: Number.NaN,
      course: Number.NaN,
      altitude: Number.NaN,
      starts,
    };
    starts = false;
  });
  parser.on('text', (part) => {
    if (value.length < 200) value += part;
  });
  parser.on('closetag', ({ name }) => {
    if (broken || point === null) return;
    const content = value.trim();
    value = '';
    switch (localName(name)) {
      case 'trkpt':
        points.push(point);
        point = null;
        break;
      case 'time':
        point.ns = dateNs(content);
        break;
      case 'ele':
        point.altitude = plain(content);
        break;
      case 'speed':
        point.speed = plain(content);
        break;
      case 'course':
        point.course = plain(content);
        break;
    }
  });
  try {
    // The parser makes an error of every further character of what is broken: from there on it gets none.
    for (let at = 0; at < text.length && !broken; at += PIECE) parser.write(text.slice(at, at + PIECE));
    if (!broken) parser.close();
  } catch (error) {
    if (!broken)
      problems.caution(
        'broken XML',
        parser.line,
        1,
        `broken XML: ${(error as Error).message}`,
        'well-formed XML',
      );
  }
  return points;
}

function localName(name: string): string {
  return name.slice(name.indexOf(':') + 1);
}

function plain(text: string): number {
  const value = /^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
  return Number.isFinite(value) ? value : Number.NaN;
}

function coordinate(text: string, limit: number): number {
  const value = plain(text.trim());
  return Math.abs(value) <= limit ? value : Number.NaN;
}
