/** One row of a table, read by what its columns mean; what is wrong in it goes to the list of problems with its place. */
import { textIn } from './cells.ts';
import { COLUMNS, type ColumnGuess, type Meaning, type TableProblem } from './model.ts';

export class Row {
  constructor(
    readonly cells: string[],
    readonly number: number,
    readonly at: ReadonlyMap<Meaning, ColumnGuess>,
    readonly problems: TableProblem[],
    /** Whether start bits of this table are written as byte.bit. */
    readonly pairs: boolean,
  ) {}

  /** Text of the cell, untouched; '' where there is none. */
  cell(meaning: Meaning): string {
    const column = this.at.get(meaning);
    return column === undefined ? '' : (this.cells[column.at] ?? '');
  }

  text(meaning: Meaning): string | undefined {
    return textIn(this.cell(meaning));
  }

  blank(meaning: Meaning): boolean {
    return this.cell(meaning).trim() === '';
  }

  wrong(meaning: Meaning | null, expected: string, found?: string): null {
    const column = meaning === null ? '' : (this.at.get(meaning)?.header ?? COLUMNS[meaning]);
    const text = meaning === null ? '' : this.cell(meaning).trim();
    const seen = text === '' ? 'nothing' : `"${text.length > 60 ? `${text.slice(0, 59)}…` : text}"`;
    this.problems.push({ row: this.number, column, found: found ?? seen, expected });
    return null;
  }
}
