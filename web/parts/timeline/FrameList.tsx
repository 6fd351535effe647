/** The frames of the stretch that is looked at, as soon as they are few enough to be read. */
import { FLAG, formatId } from '../../../src/can/frame.ts';
import type { TimeAxis } from './axis.ts';
import type { Overview } from './data.ts';
import { firstAt } from './drawRate.ts';
import { lengthText } from './span.ts';
import { useRest } from './useAxis.ts';

/** Lines that a person still reads. */
const MOST = 60;

export function FrameList({ axis }: { axis: TimeAxis }) {
  useRest(axis);
  const overview = axis.overview.best(axis.view);
  if (overview === null) return null;
  const time = overview.columns['time'];
  const from = time ? firstAt(time, axis.view.from) : 0;
  const to = time ? firstAt(time, axis.view.to, 'after') : 0;
  if (!time || to - from > MOST)
    return (
      <p class="quiet">
        {time ? `${to - from} frames here` : 'More frames here than can be listed'}: from {MOST} down they are
        listed. Go closer.
      </p>
    );
  if (from === to)
    return <p class="quiet">No frame in this stretch of {lengthText(axis.view.to - axis.view.from)}.</p>;
  const rows = rowsOf(overview, from, to);
  const first = rows[0]?.time ?? 0;
  return (
    <table class="frame-list">
      <caption class="unseen">Frames of the stretch</caption>
      <thead>
        <tr>
          <th class="n">time, s</th>
          <th class="n">after the first, ms</th>
          <th>bus</th>
          <th>identifier</th>
          <th class="n">bytes</th>
          <th>kind</th>
          <th>payload</th>
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <tr key={row.at} class={row.time === axis.cursorS ? 'chosen' : undefined}>
            <td class="n">
              <button
                type="button"
                class="time"
                onClick={() => axis.point(row.time)}
                aria-label={`Cursor to ${row.time.toFixed(6)} s`}
              >
                {row.time.toFixed(6)}
              </button>
            </td>
            <td class="n">{((row.time - first) * 1000).toFixed(3)}</td>
            <td>{row.bus}</td>
            <td>
              <code>{row.id}</code>
            </td>
            <td class="n">{row.length}</td>
            <td>{row.kind}</td>
            <td>
              <code>{row.payload}</code>
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

interface Row {
  at: number;
  time: number;
  bus: string;
  id: string;
  length: number;
  kind: string;
  payload: string;
}

function rowsOf({ head, columns }: Overview, from: number, to: number): Row[] {
  const column = (name: string) => columns[name] ?? new Uint8Array();
  const stored = column('stored');
  const payload = column('payload');
  let at = 0;
  for (let i = 0; i < from; i++) at += stored[i] as number;
  const rows: Row[] = [];
  for (let i = from; i < to; i++) {
    const bytes = Array.from(payload.subarray(at, at + (stored[i] as number)));
    at += stored[i] as number;
    const number = column('bus')[i] as number;
    const flags = column('flags')[i] as number;
    rows.push({
      at: i,
      time: column('time')[i] as number,
      bus: head.buses.find(({ bus }) => bus === number)?.name ?? String(number),
      id:
        (flags & FLAG.error) !== 0 ? '–' : formatId(column('id')[i] as number, (flags & FLAG.extended) !== 0),
      length: column('length')[i] as number,
      kind: kindOf(flags),
      payload: bytes.map((b) => b.toString(16).toUpperCase().padStart(2, '0')).join(' '),
    });
  }
  return rows;
}

function kindOf(flags: number): string {
  if ((flags & FLAG.error) !== 0) return 'error message';
  if ((flags & FLAG.remote) !== 0) return 'remote';
  return (flags & FLAG.fd) !== 0 ? 'CAN FD data' : 'data';
}
