/** Sheet 5: the printed record, as it would leave the printer. */
import { useRef, useState } from 'preact/hooks';
import type { BuildReply, ErrorReply } from '../../src/server/api.ts';
import { Sheet } from '../parts/Sheet.tsx';
import type { Route } from '../route.ts';
import { sentence } from '../words.ts';

export function DossierSheet({ route, reply }: { route: Route; reply: BuildReply }) {
  const frame = useRef<HTMLIFrameElement>(null);
  const [error, setError] = useState<string | null>(null);
  const loaded = () => {
    const page = frame.current?.contentDocument;
    if (!page) return;
    // An error comes as JSON where the document should be.
    const isDocument = page.contentType === 'text/html';
    setError(isDocument ? null : sentenceIn(page.body.textContent ?? ''));
  };
  return (
    <Sheet
      number="5"
      title="Dossier"
      words="Dossier"
      lead="The record for an engineer, insurer or inspector: one file that needs nothing else."
      route={route}
      build={reply}
    >
      <p class="actions">
        <button type="button" onClick={() => frame.current?.contentWindow?.print()}>
          Print
        </button>{' '}
        <a href="/api/dossier" target="_blank" rel="noreferrer">
          Open it by itself
        </a>
      </p>
      {error && <p role="alert">{sentence(error)}</p>}
      <iframe
        key={reply.revision}
        ref={frame}
        class="dossier"
        title="Dossier"
        src="/api/dossier"
        hidden={error !== null}
        onLoad={loaded}
      />
    </Sheet>
  );
}

function sentenceIn(body: string): string {
  try {
    return (JSON.parse(body) as ErrorReply).error;
  } catch {
    return 'The dossier could not be written, and the server did not say why.';
  }
}
