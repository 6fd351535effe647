/** Hooks between the axis, which moves with the hand, and the components, which follow when it rests. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import { TimeAxis } from './axis.ts';

/** One axis for as long as the sheet of this capture is open. */
export function useAxis(capture: string): TimeAxis {
  const axis = useMemo(() => new TimeAxis(capture), [capture]);
  useEffect(() => {
    axis.begin();
    return () => axis.end();
  }, [axis]);
  return axis;
}

/** Draws the component anew when the axis has come to rest. */
export function useRest(axis: TimeAxis): number {
  const [round, setRound] = useState(0);
  useEffect(() => axis.onRest(() => setRound((n) => n + 1)), [axis]);
  return round;
}
