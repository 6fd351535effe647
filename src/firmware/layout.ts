/** Names and places that the files of a project share. */
import type { Gateway } from '../bridge/gateway.ts';
import { NameScope } from '../bridge/names.ts';
import { frameBits } from '../can/length.ts';

export interface Layout {
  gateway: Gateway;
  /** Upper-case words for macros, by index. */
  buses: string[];
  pins: string[];
  rx: string[];
  tx: string[];
  /** Where each received message's payload starts in the array of all. */
  rxStart: number[];
  rxBytes: number;
}

export function layoutOf(gateway: Gateway): Layout {
  const scope = new NameScope();
  let at = 0;
  const rxStart = gateway.rx.map((rx) => {
    at += rx.length;
    return at - rx.length;
  });
  return {
    gateway,
    buses: gateway.buses.map((bus) => scope.give(bus.name).toUpperCase()),
    pins: gateway.pins.map((pin) => pin.name.toUpperCase()),
    rx: gateway.rx.map((rx) => rx.name.toUpperCase()),
    tx: gateway.tx.map((tx) => tx.name.toUpperCase()),
    rxStart,
    rxBytes: at,
  };
}

/**
 * Most frames that all buses together can bring in one step: the shortest classical frame has no payload and no stuff
 * bit (can/length.ts); of a CAN FD frame at least the 30 bits before and after the switch go at the first bit rate.
 */
export function framesPerStep(gateway: Gateway): number {
  return gateway.buses.reduce((sum, bus) => {
    const bits = bus.dataBitRateBps ? 30 : frameBits(0, 0).least;
    return sum + Math.ceil((bus.bitRateBps * gateway.stepMs) / 1000 / bits);
  }, 0);
}

/** Length of an array that C allows: at least 1. */
export function room(count: number): number {
  return Math.max(1, count);
}

/** Text that cannot end or open a comment of C, on one line. */
export function commentText(text: string): string {
  return text
    .replace(/\s+/g, ' ')
    .replaceAll('*/', '* /')
    .replaceAll('/*', '/ *')
    .replaceAll('??', '? ?')
    .replace(/\\+$/, '')
    .trim();
}

/** A block comment whose lines are at most 100 columns wide; paragraphs are kept. */
export function blockComment(paragraphs: readonly string[]): string {
  const lines = paragraphs.flatMap((p) => (p === '' ? [''] : wrapped(commentText(p), 96)));
  return `/*\n${lines.map((line) => ` * ${line}`.trimEnd()).join('\n')}\n */`;
}

/** Lines of at most `width` columns; a list item's further lines are indented like its text. */
export function wrapped(text: string, width: number): string[] {
  const indent = text.startsWith('- ') ? '  ' : '';
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = indent + word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line];
}
