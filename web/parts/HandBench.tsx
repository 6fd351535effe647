/** The guard tried by hand: sliders and switches on one side, what it makes of them on the other. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { handover, series } from '../../src/dossier/figures/index.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import { type Hand, HandBench } from '../handBench.ts';
import { handoverData } from '../handoverData.ts';
import { figure } from '../words.ts';
import { Drawing, Figure } from './Figure.tsx';
import { Note, Section } from './Section.tsx';

const REDRAWN_MS = 150;

export function HandBenchPart({ plan, stepMs, number }: { plan: GuardPlan; stepMs: number; number: string }) {
  const [runs, setRuns] = useState(false);
  const bench = useMemo(() => new HandBench(plan, stepMs), [plan, stepMs]);
  const [, redraw] = useState(0);
  const last = useRef(0);
  useEffect(() => {
    if (!runs) return;
    last.current = performance.now();
    const timer = setInterval(() => {
      const now = performance.now();
      // A page in the background is not caught up with: the guard would see a leap that nobody made.
      const steps = Math.min(50, Math.floor((now - last.current) / stepMs));
      last.current = steps === 50 ? now : last.current + steps * stepMs;
      bench.run(steps);
      redraw((n) => n + 1);
    }, REDRAWN_MS);
    return () => clearInterval(timer);
  }, [runs, bench, stepMs]);
  const set = (name: string, value: number) => {
    bench.set(name, value);
    redraw((n) => n + 1);
  };
  const { shown } = bench;
  return (
    <Section
      title="By hand"
      notes={
        <>
          <Note title="What runs here">
            The program that is proved and flashed, step by step in this page, {figure(1000 / stepMs)} steps a
            second. Nothing is sent to any bus.
          </Note>
          <Note title="To arm">
            Leave everything as it is until the mode is <em>ready</em>, then hold{' '}
            <em>the button for handing over</em> for a moment and let go.
          </Note>
        </>
      }
    >
      <p class="actions">
        <button type="button" class="main" aria-pressed={runs} onClick={() => setRuns(!runs)}>
          {runs ? 'Hold the clock' : 'Start the clock'}
        </button>{' '}
        <span role="status">
          Mode <b>{shown.mode}</b>
          {shown.cause === 'none' ? '' : `, because: ${shown.cause}`}
        </span>
      </p>
      <table>
        <thead>
          <tr>
            <th>channel</th>
            <th class="n">order</th>
            <th class="n">level now</th>
            <th>to be followed</th>
          </tr>
        </thead>
        <tbody>
          {shown.orders.map((o, i) => (
            <tr key={o.channel}>
              <th scope="row">{o.channel}</th>
              <td class="n">
                {o.order.toFixed(2)} {bench.figures.channels[i]?.unit}
              </td>
              <td class="n">
                {o.level.toFixed(2)} {bench.figures.channels[i]?.unit}
              </td>
              <td>{o.active ? 'yes' : 'no'}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <div class="hands">
        {bench.hands.map((hand) => (
          <HandInput key={hand.name} hand={hand} value={bench.get(hand.name)} set={set} />
        ))}
        <label class="hand">
          <input
            type="checkbox"
            checked={bench.follows}
            onChange={(e) => {
              bench.follows = e.currentTarget.checked;
              redraw((n) => n + 1);
            }}
          />{' '}
          what is measured follows the order
        </label>
      </div>
      {bench.figures.channels.map((c, i) => (
        <Figure
          key={c.key}
          number={`${number}${String.fromCharCode(97 + i)}`}
          draw={(document) =>
            series(
              {
                name: `order for ${c.key}`,
                unit: c.unit,
                time: Float64Array.from(bench.past, (p) => p.timeS),
                low: Float64Array.from(bench.past, (p) => p.orders[i] as number),
                high: Float64Array.from(bench.past, (p) => p.orders[i] as number),
              },
              { document },
            )
          }
          data={[bench.past.length, bench.timeS]}
        >
          Order for {c.key} over the last seconds; the command is{' '}
          {figure(bench.past.at(-1)?.commands[i] ?? 0)} {c.unit}.
        </Figure>
      ))}
      <details>
        <summary>Where this is in the way of handing over</summary>
        <Drawing
          draw={(document) => handover({ ...handoverData(plan), now: shown.mode }, { document })}
          data={[plan, shown.mode]}
        />
      </details>
    </Section>
  );
}

function HandInput({
  hand,
  value,
  set,
}: {
  hand: Hand;
  value: number;
  set: (name: string, v: number) => void;
}) {
  if (hand.kind === 'value')
    return (
      <label class="hand">
        <span>
          {hand.words}: {value.toFixed(1)} {hand.unit}
        </span>
        <input
          type="range"
          min={hand.lo}
          max={hand.hi}
          step={(hand.hi - hand.lo) / 400}
          value={value}
          onInput={(e) => set(hand.name, Number(e.currentTarget.value))}
        />
      </label>
    );
  return (
    <label class="hand">
      <input
        type="checkbox"
        checked={value === 1}
        onChange={(e) => set(hand.name, e.currentTarget.checked ? 1 : 0)}
      />{' '}
      {hand.words}
    </label>
  );
}
