/** Picks the sheet for the address and keeps what several sheets need: the build and the findings of the capture at hand. */
import { useEffect, useState } from 'preact/hooks';
import type { BuildReply, FindingsReply, RetestReply } from '../src/server/api.ts';
import { useReply } from './data/use.ts';
import { later } from './parts/Later.tsx';
import { Sheet } from './parts/Sheet.tsx';
import { Answered } from './parts/Waiting.tsx';
import { type Route, routeOf, SHEETS } from './route.ts';
import { BuildSheet } from './sheets/Build.tsx';

const CaptureSheet = later(() => import('./sheets/Capture.tsx').then((sheet) => sheet.CaptureSheet));
const CapturesSheet = later(() => import('./sheets/Captures.tsx').then((sheet) => sheet.CapturesSheet));
const CuesSheet = later(() => import('./sheets/Cues.tsx').then((sheet) => sheet.CuesSheet));
const DossierSheet = later(() => import('./sheets/Dossier.tsx').then((sheet) => sheet.DossierSheet));
const GuardSheet = later(() => import('./sheets/Guard.tsx').then((sheet) => sheet.GuardSheet));
const MessageSheet = later(() => import('./sheets/Message.tsx').then((sheet) => sheet.MessageSheet));
const MessagesSheet = later(() => import('./sheets/Messages.tsx').then((sheet) => sheet.MessagesSheet));
const RelationsSheet = later(() => import('./sheets/Relations.tsx').then((sheet) => sheet.RelationsSheet));

export function App() {
  const [route, setRoute] = useState<Route>(routeOf(location.hash));
  useEffect(() => {
    const follow = () => {
      setRoute(routeOf(location.hash));
      scrollTo(0, 0);
    };
    addEventListener('hashchange', follow);
    return () => removeEventListener('hashchange', follow);
  }, []);
  const reply = useReply<BuildReply>('/api/build');
  if (reply.state !== 'here') {
    const sheet = SHEETS.find((entry) => entry.sheet === route.sheet);
    return (
      <Sheet
        number={String(sheet?.number ?? '–')}
        title={sheet?.title ?? '–'}
        words={sheet?.title ?? ''}
        route={route}
        build={null}
      >
        <Answered reply={reply}>{() => null}</Answered>
      </Sheet>
    );
  }
  return <Routed route={route} reply={reply.value} />;
}

function Routed({ route, reply }: { route: Route; reply: BuildReply }) {
  switch (route.sheet) {
    case 'build':
      return <BuildSheet route={route} reply={reply} />;
    case 'captures':
      return route.capture === null ? (
        <CapturesSheet route={route} reply={reply} />
      ) : (
        <CaptureSheet key={route.capture} route={route} name={route.capture} reply={reply} />
      );
    case 'messages':
      return <MessagesRouted route={route} reply={reply} />;
    case 'guard':
      return <GuardSheet route={route} reply={reply} />;
    case 'dossier':
      return <DossierSheet route={route} reply={reply} />;
    case 'none':
      return (
        <Sheet number="–" title="No such sheet" words="No such sheet" route={route} build={reply}>
          <p>There is no sheet “{route.address}”. The contents list the sheets there are.</p>
        </Sheet>
      );
  }
}

function MessagesRouted({
  route,
  reply,
}: {
  route: Extract<Route, { sheet: 'messages' }>;
  reply: BuildReply;
}) {
  // With a single capture there is nothing to choose.
  const capture = route.capture ?? (reply.captures.length === 1 ? (reply.captures[0]?.name ?? null) : null);
  const isList = route.view === undefined;
  const findings = useReply<FindingsReply>(
    capture === null || !isList ? null : `/api/captures/${encodeURIComponent(capture)}/findings`,
  );
  // After the findings, so that the machine is not at both at once.
  const retest = useReply<RetestReply>(findings.state === 'here' && isList ? '/api/retest' : null);
  if (capture !== null && route.view?.kind === 'relations')
    return <RelationsSheet route={route} capture={capture} at={route.view.signal ?? null} reply={reply} />;
  if (capture !== null && route.view?.kind === 'cues')
    return <CuesSheet route={route} capture={capture} reply={reply} />;
  if (capture !== null && route.message !== null) {
    const { message } = route;
    return <MessageSheet {...{ route, capture, findings, retest, reply }} place={message} />;
  }
  return <MessagesSheet {...{ route, capture, findings, retest, reply }} />;
}
