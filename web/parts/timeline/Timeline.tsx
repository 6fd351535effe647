/** The figure of a whole recording: a strip of all of it, and below the stretch that is looked at, down to single frames. */
import { useEffect, useId, useLayoutEffect, useRef } from 'preact/hooks';
import { counted } from '../../words.ts';
import { figureId } from '../Figure.tsx';
import { Failure } from '../Waiting.tsx';
import type { AxisCue, TimeAxis } from './axis.ts';
import { bandHeight, drawStrip, drawWindow, stripHeight, windowHeight } from './drawAxis.ts';
import { rowsOf } from './drawCues.ts';
import { valueAt } from './drawLane.ts';
import { type HandActions, onKey, onPress, onStrip, onWheel } from './hand.ts';
import { paperOf, type Tones, tonesOf } from './paper.ts';
import { lengthText, timeText, widthOf } from './span.ts';
import { useRest } from './useAxis.ts';

interface TimelineProps {
  number: string;
  axis: TimeAxis;
  marked: () => void;
  edgeMoved: (cue: AxisCue) => void;
}

export function Timeline({ number, axis, marked, edgeMoved }: TimelineProps) {
  useRest(axis);
  const strip = useRef<HTMLCanvasElement>(null);
  const stretch = useRef<HTMLCanvasElement>(null);
  const hand = useRef<HTMLDivElement>(null);
  const actions = useRef<HandActions>(null as never);
  const rows = useRef<{ cues: AxisCue[]; rows: Map<AxisCue, number> }>({ cues: [], rows: new Map() });
  const help = useId();
  actions.current = {
    rows: () => {
      if (rows.current.cues !== axis.cues) rows.current = { cues: axis.cues, rows: rowsOf(axis.cues) };
      return rows.current.rows;
    },
    marked,
    edgeMoved,
  };
  useLayoutEffect(() => {
    const [above, below, held] = [strip.current, stretch.current, hand.current];
    if (above === null || below === null || held === null) return;
    let tones: Tones = tonesOf(below);
    axis.draw = () => {
      const cueRows = actions.current.rows();
      const small = paperOf(above, tones, axis.width, stripHeight(axis));
      if (small) drawStrip(small, axis);
      const large = paperOf(below, tones, axis.width, windowHeight(axis, bandHeight(cueRows)));
      if (large) drawWindow(large, axis, cueRows);
    };
    const sized = new ResizeObserver(() => {
      axis.width = below.clientWidth;
      axis.changed();
    });
    sized.observe(below);
    const dark = matchMedia('(prefers-color-scheme: dark)');
    const retoned = () => {
      tones = tonesOf(below);
      axis.changed();
    };
    dark.addEventListener('change', retoned);
    const wheel = (event: WheelEvent) => onWheel(event, axis);
    below.addEventListener('wheel', wheel, { passive: false });
    const key = (event: KeyboardEvent) => onKey(event, axis, actions.current);
    held.addEventListener('keydown', key);
    const press = (event: PointerEvent) => onPress(event, axis, actions.current);
    below.addEventListener('pointerdown', press);
    const stripPress = (event: PointerEvent) => onStrip(event, axis);
    above.addEventListener('pointerdown', stripPress);
    return () => {
      axis.draw = () => {};
      sized.disconnect();
      dark.removeEventListener('change', retoned);
      below.removeEventListener('wheel', wheel);
      held.removeEventListener('keydown', key);
      below.removeEventListener('pointerdown', press);
      above.removeEventListener('pointerdown', stripPress);
    };
  }, [axis]);
  useEffect(() => axis.changed(), [axis, axis.cues, axis.chosen]);
  return (
    <figure id={figureId(number)} class="timeline">
      <canvas ref={strip} class="strip" role="img" aria-label={stripWords(axis)} />
      <div
        ref={hand}
        class="hand"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: a widget of the role "application" takes keys itself.
        tabIndex={0}
        role="application"
        aria-label="Time axis of the recording"
        aria-describedby={help}
        data-from={axis.view.from}
        data-to={axis.view.to}
      >
        <canvas ref={stretch} class="stretch" />
      </div>
      <p class="unseen" role="status">
        {stretchWords(axis)}
      </p>
      <Moves axis={axis} />
      {axis.error && <Failure error={axis.error} />}
      <figcaption>
        <b>Fig. {number}</b> The whole recording, and below it the stretch under its measure. Pale: the least
        and greatest rate within; where nothing is drawn, nothing was sent. Close up, every frame is a stroke.{' '}
        <span id={help}>
          Keys: <kbd>←</kbd> <kbd>→</kbd> move, <kbd>+</kbd> <kbd>-</kbd> closer and further, <kbd>Home</kbd>{' '}
          <kbd>End</kbd> first and last frame, <kbd>0</kbd> all of it, <kbd>Shift</kbd> <kbd>←</kbd>{' '}
          <kbd>→</kbd> cursor, <kbd>n</kbd> <kbd>p</kbd> next and last frame, <kbd>[</kbd> <kbd>]</kbd> start
          and end of a cue.
        </span>
      </figcaption>
    </figure>
  );
}

/** The same moves for a pointer without a wheel. */
function Moves({ axis }: { axis: TimeAxis }) {
  return (
    <p class="moves">
      <button type="button" onClick={() => axis.pan(-0.5)} aria-label="Earlier">
        ←
      </button>{' '}
      <button type="button" onClick={() => axis.pan(0.5)} aria-label="Later">
        →
      </button>{' '}
      <button type="button" onClick={() => axis.zoom(0.25)}>
        Closer
      </button>{' '}
      <button type="button" onClick={() => axis.zoom(4)}>
        Further
      </button>{' '}
      <button type="button" onClick={() => axis.show(axis.bounds)}>
        All of it
      </button>
    </p>
  );
}

function stripWords({ overview }: TimeAxis): string {
  const head = overview.whole?.head;
  if (!head) return 'The whole recording, being read';
  const buses = head.buses.map(
    ({ bus, name, frames }) => `${name ?? `bus ${bus}`} ${counted(frames, 'frame')}`,
  );
  return `The whole recording, ${lengthText(head.last - head.first)}: ${buses.join(', ')}`;
}

function stretchWords(axis: TimeAxis): string {
  const { view, cursorS, mark, cues } = axis;
  if (axis.overview.whole === null) return '';
  const seen = cues.filter((cue) => cue.endS >= view.from && cue.startS <= view.to);
  const values = [...axis.lanes.values()].flatMap(({ lane, data }) => {
    const best = data.best(view);
    const value = cursorS === null || best === null ? null : valueAt(best, lane, cursorS);
    return value === null ? [] : [`${lane.name} ${value} ${lane.unit}`.trim()];
  });
  return [
    `Seen: ${timeText(view.from, view)} to ${timeText(view.to, view)} s, ${lengthText(widthOf(view))}`,
    ...(cursorS === null ? [] : [`cursor at ${timeText(cursorS, view)} s`]),
    ...values,
    ...(mark === null ? [] : [`cue from ${timeText(mark.startS, view)} s`]),
    ...(seen.length === 0 ? [] : [`cues: ${seen.map(({ name }) => name).join(', ')}`]),
  ].join('; ');
}
