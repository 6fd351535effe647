/** Text tables and JSON on standard output. */

export function printJson(form: object): void {
  process.stdout.write(`${JSON.stringify(form)}\n`);
}

export function printLine(text = ''): void {
  process.stdout.write(`${text}\n`);
}

/** Rows of cells under a header; numbers (cells that start with a digit or a sign) are set to the right. */
export function printTable(header: readonly string[], rows: readonly (readonly string[])[]): void {
  const widths = header.map((h, i) => Math.max(h.length, ...rows.map((r) => (r[i] ?? '').length)));
  const right = header.map(
    (_, i) => rows.length > 0 && rows.every((r) => /^([-−+]?\d|–|$)/.test(r[i] ?? '')),
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
