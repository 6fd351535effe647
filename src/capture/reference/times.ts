/** What the time cells of a delimited text mean: a count in some unit, a date (ISO 8601) or the time of day. */

export type TimeUnit = 's' | 'ms' | 'us' | 'ns';
export type TimeForm = { form: 'number'; unit: TimeUnit } | { form: 'date' } | { form: 'clock' };

export interface TimeGuess {
  time: TimeForm;
  confidence: number;
  /** What it was told by. */
  by: string;
}

const SCALE: Record<TimeUnit, number> = { s: 1, ms: 1e3, us: 1e6, ns: 1e9 };
const DATE = /^(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d)(?::(\d\d)(?:[.,](\d+))?)?\s*(Z|[+-]\d\d(?::?\d\d)?)?$/i;
const CLOCK = /^(\d{1,2}):(\d\d):(\d\d)(?:[.,](\d+))?$/;

/**
 * The form of the times in `cells` (samples of one column), or null where they are no times. Plain numbers get their unit
 * from the header; else from their size where they count from 1970 (1e9 to 4e9 s is 2001 to 2096); else from their step:
 * readings come at about 5 a second within a factor of ten (from memory), and decimals are written for seconds.
 */
export function guessTime(
  cells: readonly string[],
  header: string,
  number: (text: string) => number,
): TimeGuess | null {
  const filled = cells.filter((c) => c !== '');
  if (filled.length === 0) return null;
  const most = (test: (c: string) => boolean) => filled.filter(test).length >= 0.9 * filled.length;
  if (most((c) => dateNs(c) !== null)) return { time: { form: 'date' }, confidence: 1, by: 'its dates' };
  if (most((c) => clockSeconds(c) !== null))
    return { time: { form: 'clock' }, confidence: 1, by: 'its colons' };
  const values = filled.map(number).filter(Number.isFinite);
  if (values.length < 0.9 * filled.length) return null;
  const unit = headerUnit(header);
  if (unit) return { time: { form: 'number', unit }, confidence: 1, by: 'its header' };
  const first = values[0] as number;
  for (const unit of Object.keys(SCALE) as TimeUnit[])
    if (first >= 1e9 * SCALE[unit] && first < 4e9 * SCALE[unit])
      return { time: { form: 'number', unit }, confidence: 1, by: 'its size, counted from 1970' };
  const steps = values.slice(1).map((v, i) => v - (values[i] as number));
  const rising = steps.filter((d) => d > 0).sort((a, b) => a - b);
  if (values.length > 1 && rising.length < 0.5 * steps.length) return null;
  const step = rising[rising.length >> 1];
  if (step === undefined)
    return { time: { form: 'number', unit: 's' }, confidence: 0.5, by: 'nothing but habit' };
  const decimals = values.some((v) => !Number.isInteger(v));
  const weights = (Object.keys(SCALE) as TimeUnit[]).map((unit) => {
    const usual = Math.exp(-0.5 * Math.log10((step / SCALE[unit]) * 5) ** 2);
    return usual * (decimals ? (unit === 's' ? 1 : 0.05) : 1);
  });
  const total = weights.reduce((a, b) => a + b, 0);
  const best = weights.indexOf(Math.max(...weights));
  return {
    time: { form: 'number', unit: (Object.keys(SCALE) as TimeUnit[])[best] as TimeUnit },
    confidence: total > 0 ? (weights[best] as number) / total : 0.25,
    by: 'its step',
  };
}

/** Seconds of a plain count; `originNs` is added by the caller where it counts from 1970. */
export function countSeconds(value: number, unit: TimeUnit): number {
  return value / SCALE[unit];
}

/** Whether a count in this unit is one from 1970: 2001 or later. */
export function isEpoch(seconds: number): boolean {
  return seconds >= 1e9 && seconds < 4e9;
}

/** Nanoseconds since 1970 of an ISO 8601 date with time; UTC where it names no zone. null where it is none. */
export function dateNs(text: string): bigint | null {
  const m = DATE.exec(text);
  if (!m) return null;
  const [year, month, day, hour, minute, second] = [1, 2, 3, 4, 5, 6].map((i) => Number(m[i] ?? 0)) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  if (month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 || minute > 59 || second > 60) return null;
  const zone = /^([+-])(\d\d):?(\d\d)?$/.exec(m[8] ?? '');
  const zoneMinutes = zone ? (zone[1] === '-' ? -1 : 1) * (Number(zone[2]) * 60 + Number(zone[3] ?? 0)) : 0;
  const ms = Date.UTC(year, month - 1, day, hour, minute - zoneMinutes, second);
  if (!Number.isFinite(ms)) return null;
  const fraction = `${m[7] ?? ''}000000000`.slice(0, 9);
  return BigInt(ms) * 1_000_000n + BigInt(fraction);
}

/** Seconds from midnight of h:mm:ss with or without a fraction; null where it is none. */
export function clockSeconds(text: string): number | null {
  const m = CLOCK.exec(text);
  if (!m) return null;
  const [h, min, s] = [Number(m[1]), Number(m[2]), Number(m[3])];
  if (h > 23 || min > 59 || s > 60) return null;
  return h * 3600 + min * 60 + s + Number(`0.${m[4] ?? 0}`);
}

/** The unit that a header of times names: "t_ms", "time [s]", "elapsed (ms)". */
function headerUnit(header: string): TimeUnit | null {
  const word = /(?:^|[\s_[(,])(seconds|secs?|s|msec|ms|milliseconds|us|µs|microseconds|ns)[\])]?$/i.exec(
    header.trim(),
  )?.[1];
  if (!word) return null;
  const w = word.toLowerCase();
  if (w === 'us' || w === 'µs' || w.startsWith('micro')) return 'us';
  if (w === 'ns') return 'ns';
  return w.startsWith('m') ? 'ms' : 's';
}

/** Whether a header speaks of time at all. */
export function isTimeHeader(header: string): boolean {
  return /^(t|ts|time|timestamp|date|datetime|utc|clock|elapsed|sec|secs|seconds|ms)([\s_[(,].*)?$/i.test(
    header.trim(),
  );
}
