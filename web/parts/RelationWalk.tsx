/** The figure of relations around one signal, walked by pointer or keys from plate to plate. */
import { useLayoutEffect, useRef } from 'preact/hooks';
import { relationDrawing } from '../../src/dossier/figures/index.ts';
import type { RelationsReply, TiedSignal } from '../../src/server/api.ts';
import { addressOf } from '../route.ts';
import { aroundOf, messageOfSignal, signalTitle } from '../ties.ts';
import { Figure } from './Figure.tsx';

interface RelationWalkProps {
  reply: RelationsReply;
  at: number;
  walk: (to: number) => void;
  back: () => void;
  capture: string;
}

export function RelationWalk({ reply, at, walk, back, capture }: RelationWalkProps) {
  const place = useRef<HTMLDivElement>(null);
  const isWalking = useRef(false);
  const plates = () => [...(place.current?.querySelectorAll<SVGGElement>('[data-signal]') ?? [])];
  const middle = () => plates().find((plate) => plate.dataset['signal'] === String(at));
  useLayoutEffect(() => {
    middle()?.setAttribute('tabindex', '0');
    // Who walks by keyboard stays in the figure; it was drawn anew.
    if (isWalking.current) middle()?.focus();
    isWalking.current = false;
  }, [at, reply]);
  const go = (to: number) => {
    isWalking.current = true;
    walk(to);
  };
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const plate = (event.target as Element).closest<SVGGElement>('[data-signal]');
    if (plate === null) return;
    const to = Number(plate.dataset['signal']);
    if (event.key === 'Enter' || event.key === ' ') go(to);
    else if (event.key === 'Backspace') {
      isWalking.current = true;
      back();
    } else if (event.key === 'm') {
      location.hash = addressOf({
        sheet: 'messages',
        capture,
        message: messageOfSignal(reply.signals[to] as TiedSignal),
      });
    } else {
      const next = neighbourOf(plates(), plate, event.key);
      if (next === null) return;
      next.focus();
    }
    event.preventDefault();
  };
  const onClick = (event: MouseEvent) => {
    const plate = (event.target as Element).closest<SVGGElement>('[data-signal]');
    if (plate) go(Number(plate.dataset['signal']));
  };
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: the plates inside are the buttons; this hears them all.
    <div ref={place} class="walk" onKeyDown={onKeyDown} onClick={onClick}>
      <Figure
        number="3.A-1"
        draw={(document) => relationDrawing(aroundOf(reply, at), { document, plates: 'walk' })}
        data={[reply, at]}
      >
        Signals tied to {signalTitle(reply.signals[at] as TiedSignal)}; over each line what the tie is, under
        it the delay and how sure it is.
      </Figure>
    </div>
  );
}

/** The plate nearest in the direction of an arrow key, by where they are drawn. */
function neighbourOf(plates: SVGGElement[], from: SVGGElement, key: string): SVGGElement | null {
  const direction = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[key];
  if (direction === undefined) return null;
  const [dx, dy] = direction as [number, number];
  const middleOf = (plate: SVGGElement) => {
    const { x, y, width, height } = plate.getBoundingClientRect();
    return { x: x + width / 2, y: y + height / 2 };
  };
  const here = middleOf(from);
  let best: SVGGElement | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const plate of plates) {
    const there = middleOf(plate);
    const along = (there.x - here.x) * dx + (there.y - here.y) * dy;
    const across = Math.abs((there.x - here.x) * dy) + Math.abs((there.y - here.y) * dx);
    if (plate === from || along < 10) continue;
    const far = along + 2 * across;
    if (far < least) [least, best] = [far, plate];
  }
  return best;
}
