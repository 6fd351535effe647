/** Text tables and JSON on standard output. */

export function printJson(form: object): void {
  process.stdout.write(`${JSON.stringify(form)}\n`);
}

export function printLine(text = ''): void {
  process.stdout.write(`${text}\n`);
}

/** Rows of cells under a header; columns of numbers are set to the right. */
export function printTable(header: readonly string[], rows: readonly (readonly string[])[]): void {
  const widths = header.map((h, i) => Math.max(h.length, ...rows.map((r) => (r[i] ?? '').length)));
  const right = header.map(
    (_, i) => rows.length > 0 && rows.every((r) => /^([-−+]?[\d,.]+|–)?$/.test(r[i] ?? '')),
  );
  const line = (cells: readonly string[]) =>
    cells
      .map((c, i) => (right[i] ? c.padStart(widths[i] as number) : c.padEnd(widths[i] as number)))
      .join('  ')
      .trimEnd();
  printLine(line(header));
  printLine(widths.map((w) => '─'.repeat(w)).join('  '));
  for (const row of rows) printLine(line(row));
}

/** 1234567 → "1,234,567". */
export function grouped(n: number): string {
  return Math.round(n)
    .toString()
    .replace(/\B(?=(\d{3})+(?!\d))/g, ',');
}

/** "1 frame", "2,000 frames". */
export function counted(n: number, one: string, many = `${one}s`): string {
  return `${grouped(n)} ${n === 1 ? one : many}`;
}

/** A path as it is typed on a command line: quoted where it needs to be, never taken for an option. */
export function typed(path: string): string {
  const word = path.startsWith('-') ? `./${path}` : path;
  return /^[\w./:@%+=,~\u00a0-\uffff-]+$/.test(word) ? word : `'${word.replaceAll("'", "'\\''")}'`;
}
