/** The frame of every sheet: contents at the left, head with the number of the sheet, title block at the foot. */
import type { ComponentChildren } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';
import type { BuildReply } from '../../src/server/api.ts';
import { addressOf, type Route, SHEETS } from '../route.ts';

interface SheetProps {
  /** "3", or "3.4" below another sheet. */
  number: string;
  title: ComponentChildren;
  /** Title as plain words, for the window and the contents. */
  words: string;
  lead?: ComponentChildren;
  route: Route;
  build: BuildReply | null;
  children: ComponentChildren;
}

export function Sheet({ number, title, words, lead, route, build, children }: SheetProps) {
  const head = useRef<HTMLHeadingElement>(null);
  const name = build?.build?.title ?? build?.name ?? '';
  useLayoutEffect(() => {
    document.title = `${number} ${words}${name ? ` · ${name}` : ''}`;
  }, [number, words, name]);
  const address = addressOf(route);
  useLayoutEffect(() => {
    // A new sheet is read from its head, also by those who do not see it; the first one is where the reader already is.
    if (opened !== address && opened !== '') led = true;
    // Also where the same sheet is put up anew, because its scripts or the build came late: then nothing has the focus.
    if (led && (opened !== address || document.activeElement === document.body)) head.current?.focus();
    opened = address;
  }, [address]);
  return (
    <div class="manual">
      <button type="button" class="skip" onClick={() => head.current?.focus()}>
        Skip the contents
      </button>
      <Contents number={number} words={words} route={route} />
      <main>
        <header class="head">
          <span class="number" aria-hidden="true">
            {number}
          </span>
          <div>
            <h1 tabIndex={-1} ref={head}>
              <span class="unseen">Sheet {number}: </span>
              {title}
            </h1>
            {lead && <p class="lead">{lead}</p>}
          </div>
        </header>
        {children}
        <TitleBlock number={number} build={build} />
      </main>
    </div>
  );
}

/** Address of the sheet that was opened last. */
let opened = '';
/** The reader came to a sheet from another one. */
let led = false;

function Contents({ number, words, route }: { number: string; words: string; route: Route }) {
  return (
    <nav aria-label="Contents">
      <p class="mark">Bywright</p>
      <ol>
        {SHEETS.map((entry) => {
          const here = entry.sheet === route.sheet;
          const address = addressOf(
            entry.sheet === 'captures'
              ? { sheet: 'captures', capture: null }
              : entry.sheet === 'messages'
                ? { sheet: 'messages', capture: captureOf(route), message: null }
                : { sheet: entry.sheet },
          );
          const below = here && number.includes('.');
          return (
            <li key={entry.sheet} class={here ? 'here' : undefined}>
              <a href={address} aria-current={here && !below ? 'page' : undefined}>
                <span>{entry.title}</span>
                <span class="leader" aria-hidden="true" />
                <span>{entry.number}</span>
              </a>
              {below && (
                <a class="below" href={addressOf(route)} aria-current="page">
                  <span>{words}</span>
                  <span class="leader" aria-hidden="true" />
                  <span>{number}</span>
                </a>
              )}
            </li>
          );
        })}
      </ol>
    </nav>
  );
}

function captureOf(route: Route): string | null {
  return 'capture' in route ? route.capture : null;
}

function TitleBlock({ number, build }: { number: string; build: BuildReply | null }) {
  const proof = build?.proof ?? null;
  const open = proof ? proof.failed + proof.notShown + proof.vacuous : 0;
  return (
    <footer class="title-block">
      <div>
        <small>build</small>
        {build?.build?.title ?? build?.name ?? '–'}
      </div>
      <div>
        <small>sheet</small>
        {number}
      </div>
      <div>
        <small>stage</small>
        {build?.build?.stage ?? '–'}
      </div>
      <div>
        <small>revision</small>
        <code>{build?.revision.slice(0, 7) || '–'}</code>
      </div>
      <div>
        <small>guard: shown / not shown</small>
        {proof ? `${proof.proved} / ${open}${proof.stale ? ', out of date' : ''}` : 'nothing proved yet'}
      </div>
    </footer>
  );
}
