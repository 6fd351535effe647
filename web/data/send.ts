/** Sends a file to the server as it comes from the disk: the browser streams it, nothing holds it whole. */
import {
  type ErrorReply,
  type IncomingFile,
  type IncomingReply,
  TOKEN_HEADER,
  TOKEN_META,
} from '../../src/server/api.ts';
import { bytesWords } from '../words.ts';
import { AskError, ask } from './ask.ts';

/** @throws AskError where it is not taken, an AbortError where `signal` stopped it */
export async function sendRecording(
  file: File,
  signal: AbortSignal,
  onProgress: (bytesDone: number) => void,
): Promise<IncomingFile> {
  // What would be refused anyhow is not sent: a browser tells nothing of an answer that comes while it sends.
  const { value } = await ask<IncomingReply>('/api/incoming', signal);
  const trouble = value && troubleOf(file, value);
  if (trouble) throw new AskError({ error: trouble });
  return new Promise((resolve, reject) => {
    // fetch tells no progress of what it sends.
    const sending = new XMLHttpRequest();
    const stop = () => sending.abort();
    signal.addEventListener('abort', stop, { once: true });
    sending.addEventListener('loadend', () => signal.removeEventListener('abort', stop));
    sending.upload.addEventListener('progress', ({ loaded }) => onProgress(loaded));
    sending.addEventListener('abort', () => reject(signal.reason));
    sending.addEventListener('error', () =>
      reject(
        new AskError({
          error: `${file.name} was not sent to its end: the workbench does not answer, or the file changed or went away meanwhile; nothing of it was kept.`,
        }),
      ),
    );
    sending.addEventListener('load', () => {
      const body = sending.response as IncomingFile | ErrorReply | null;
      if (sending.status === 201 && body !== null) resolve(body as IncomingFile);
      else {
        const told = (body as ErrorReply | null)?.error;
        reject(new AskError({ error: told ?? `The server answered ${sending.status} to ${file.name}.` }));
      }
    });
    sending.open('POST', `/api/incoming?name=${encodeURIComponent(file.name)}`);
    sending.responseType = 'json';
    sending.setRequestHeader('content-type', 'application/octet-stream');
    sending.setRequestHeader(
      TOKEN_HEADER,
      document.querySelector<HTMLMetaElement>(`meta[name="${TOKEN_META}"]`)?.content ?? '',
    );
    sending.send(file);
  });
}

function troubleOf(file: File, { largestBytes, freeBytes }: IncomingReply): string | null {
  if (file.size === 0) return `${file.name} is empty, or a folder: nothing was sent.`;
  if (file.size > largestBytes)
    return `${file.name} takes ${bytesWords(file.size)}; a page takes recordings of at most ${bytesWords(largestBytes)}: cut it into shorter ones, or copy it into captures/ by hand.`;
  if (freeBytes !== null && file.size > freeBytes)
    return `${file.name} takes ${bytesWords(file.size)} and the disk of the build has ${bytesWords(freeBytes)} left: free some space and repeat.`;
  return null;
}
