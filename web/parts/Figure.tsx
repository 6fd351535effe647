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
    <figure id={figureId(number)}>
      <div class="picture">
        <Drawing draw={draw} data={data} />
      </div>
      <figcaption>
        <b>Fig. {number}</b> {children}
      </figcaption>
    </figure>
  );
}

/** Id of a figure in the page, to lead the reader to it. */
export function figureId(number: string): string {
  return `figure-${number}`;
}

export function Drawing({ draw, data }: Pick<FigureProps, 'draw' | 'data'>) {
  const place = useRef<HTMLDivElement>(null);
  useLayoutEffect(() => {
    place.current?.replaceChildren(draw(document));
  }, data);
  return <div ref={place} />;
}
