/** A block of lines at the foot of the terminal that is drawn again and again, with other lines passing above it. */

export interface Block {
  draw(lines: readonly string[]): void;
  /** A line that stays, above the block. */
  say(line: string): void;
  /** Takes the block away. */
  clear(): void;
}

export function blockOn(stream: NodeJS.WriteStream): Block {
  let drawn: readonly string[] = [];
  // Up to the first line of the block, then erase to the end of the screen (ECMA-48: CPL, ED).
  const erase = () => (drawn.length > 0 ? `\x1b[${drawn.length}F\x1b[J` : '');
  const block = (lines: readonly string[]) => lines.map((line) => `${line}\n`).join('');
  return {
    draw(lines) {
      stream.write(`${erase()}${block(lines)}`);
      drawn = lines;
    },
    say(line) {
      stream.write(`${erase()}${line}\n${block(drawn)}`);
    },
    clear() {
      stream.write(erase());
      drawn = [];
    },
  };
}
