/** What a running recording shows on the terminal: a small block that is redrawn, or one plain line. */
import type { ListenState } from '../build/listen/index.ts';
import type { Bus } from '../build/model.ts';
import { grouped } from './print.ts';

/** The block: recording, one line a bus with its busiest identifiers under it, cues that are on. At most `width` wide. */
export function blockLines(
  state: ListenState,
  buses: readonly Bus[],
  cues: ReadonlyMap<string, string>,
  width: number,
): string[] {
  const lines = [
    `captures/${state.name}  ${totals(state)}${state.quietS >= 3 ? `  (quiet for ${state.quietS.toFixed(0)} s)` : ''}`,
  ];
  const rows = state.summary.buses.map((lane) => ({
    cells: [
      busName(lane.bus, buses),
      lane.framesPerSecond === null ? '–' : grouped(lane.framesPerSecond),
      load(lane, buses),
      grouped(lane.ids.length),
      errors(lane),
    ],
    busiest: lane.ids
      .slice(0, 12)
      .map((id) => `${id.id} ${id.framesPerSecond === null ? '–' : id.framesPerSecond}/s`)
      .join('  '),
  }));
  const head = ['bus', 'frames/s', 'load', 'ids', 'error frames'];
  const widths = head.map((h, i) =>
    Math.max(h.length, ...rows.map(({ cells }) => (cells[i] as string).length)),
  );
  const line = (cells: readonly string[]) =>
    cells
      .map((c, i) => (i === 0 || i === 4 ? c.padEnd(widths[i] as number) : c.padStart(widths[i] as number)))
      .join('  ');
  if (rows.length > 0) lines.push(line(head));
  for (const { cells, busiest } of rows) lines.push(line(cells), `  ${busiest}`);
  if (cues.size > 0) {
    const keys = [...cues].map(
      ([key, name]) => `${key} ${name}${state.openCues.includes(name) ? ' [ON]' : ''}`,
    );
    lines.push(`keys: ${keys.join(' · ')} · space ends all`);
  }
  return lines.map((text) => text.trimEnd().slice(0, Math.max(20, width - 1)));
}

/** "61 s: 12,345 frames; chassis 1,234 frames/s, load 34.5 %, 42 ids, 0 error frames" */
export function plainLine(state: ListenState, buses: readonly Bus[]): string {
  const lanes = state.summary.buses.map(
    (lane) =>
      `${busName(lane.bus, buses)} ${lane.framesPerSecond === null ? '–' : grouped(lane.framesPerSecond)} frames/s, load ${load(lane, buses)}, ${lane.ids.length} ids, ${errors(lane)} error frames`,
  );
  return [`${state.elapsedS.toFixed(0)} s: ${grouped(state.summary.frames)} frames`, ...lanes].join('; ');
}

type Lane = ListenState['summary']['buses'][number];

function totals({ summary, elapsedS }: ListenState): string {
  const span = summary.seconds === null ? '' : `, ${summary.seconds.toFixed(1)} s recorded`;
  return `${grouped(summary.frames)} frames${span}, listening for ${elapsedS.toFixed(0)} s`;
}

function busName(number: number, buses: readonly Bus[]): string {
  return buses.find((bus) => bus.number === number)?.name ?? `bus ${number}`;
}

/** Share of the bit rate of the build's bus; bits a second where the build does not know the bus. */
function load({ bus, bitsPerSecond, hasFd }: Lane, buses: readonly Bus[]): string {
  if (bitsPerSecond === null) return '–';
  const rate = buses.find((known) => known.number === bus)?.bitRateBps;
  const most = hasFd ? '≤ ' : '';
  return rate === undefined
    ? `${most}${grouped(bitsPerSecond)} bit/s`
    : `${most}${((100 * bitsPerSecond) / rate).toFixed(1)} %`;
}

function errors(lane: Lane): string {
  if (lane.errorFrames === 0) return '0';
  const kinds = lane.errors.slice(0, 2).map(({ words, count }) => `${words} ${grouped(count)}`);
  return `${grouped(lane.errorFrames)}${kinds.length > 0 ? ` (${kinds.join(', ')})` : ''}`;
}
