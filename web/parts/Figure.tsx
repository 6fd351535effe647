/** A figure of the manual: the drawing, its number and its caption. */
import type { ComponentChildren } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';

interface FigureProps {
  number: string;
  children: ComponentChildren;
  /** Draws the figure; asked again when one of `data` changes. */
  draw: (document: Document) => SVGSVGElement;
  data: unknown[];
}

export function Figure({ number, children, draw, data }: FigureProps) {
  return (
    <figure>
      <div class="picture">
        <Drawing draw={draw} data={data} />
      </div>
      <figcaption>
        <b>Fig. {number}</b> {children}
      </figcaption>
    </figure>
  );
}

export function Drawing({ draw, data }: Pick<FigureProps, 'draw' | 'data'>) {
  const place = useRef<HTMLDivElement>(null);
  useLayoutEffect(() => {
    place.current?.replaceChildren(draw(document));
  }, data);
  return <div ref={place} />;
}
