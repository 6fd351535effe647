/** Keys as they are pressed, while standard input may carry something else. */
import { openSync } from 'node:fs';
import { ReadStream } from 'node:tty';

export interface Keys {
  /** Gives the terminal back as it was. */
  close(): void;
}

/**
 * Hands over each key: from the terminal itself where standard input is the stream, else from standard input (a terminal
 * or anything that sends one character a key). Ctrl-C calls `interrupted`. null where there is no terminal to read.
 */
export function readKeys(
  standardInput: 'keys' | 'stream',
  pressed: (key: string) => void,
  interrupted: () => void,
): Keys | null {
  const stream = standardInput === 'keys' ? process.stdin : terminal();
  if (stream === null) return null;
  const raw = stream instanceof ReadStream ? stream : null;
  raw?.setRawMode(true);
  const take = (bytes: Uint8Array | string) => {
    for (const key of bytes.toString()) {
      if (key === '\x03') interrupted();
      else pressed(key);
    }
  };
  stream.on('data', take);
  return {
    close() {
      stream.off('data', take);
      raw?.setRawMode(false);
      stream.destroy();
    },
  };
}

function terminal(): ReadStream | null {
  try {
    return new ReadStream(openSync('/dev/tty', 'r'));
  } catch {
    return null;
  }
}
