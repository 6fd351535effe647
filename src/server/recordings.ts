/** Tells the pages what is being recorded into the build just now, by this or another process. */
import { listeningNow } from '../build/listen/index.ts';
import type { Events } from './events.ts';

/** A recording renews its status once a second. */
const LOOK_EVERY_MS = 1000;

/** Sends `listening` every second while something is recorded, and once when nothing is any more; returns how to stop. */
export function watchRecordings(folder: string, events: Events): () => void {
  let before = 0;
  let looking = false;
  const look = async () => {
    if (looking || events.listening === 0) return;
    looking = true;
    const recordings = await listeningNow(folder, Date.now());
    looking = false;
    if (recordings.length > 0 || before > 0) events.send({ event: 'listening', data: { recordings } });
    before = recordings.length;
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  timer.unref();
  return () => clearInterval(timer);
}
