import { readFileSync } from 'node:fs';

/** One row of a check-value table: the expected number, its tolerance, and where it comes from. */
export interface CheckValue {
  id: string;
  expected: number;
  unit: string;
  tolerance: number;
  kind: 'published' | 'derived' | 'regression';
  source: string;
  note: string;
  /** An input column as a number; an empty cell is undefined. Throws where there is no such column. */
  input(column: string): number | undefined;
  /** The same, for a cell that must be filled in. */
  need(column: string): number;
  /** An input column as text. */
  word(column: string): string;
}

const KINDS = ['published', 'derived', 'regression'];
const REQUIRED = ['id', 'expected', 'unit', 'tolerance', 'kind', 'source', 'note'];

/**
 * Reads `tests/check-values/NAME.csv`: comma separated, double quotes where a cell contains a comma, `#` lines are comments.
 * Throws on a missing column, a row of another length, a repeated id, an invalid number, or a row without a source.
 */
export function readCheckValues(name: string): CheckValue[] {
  const text = readFileSync(new URL(`./${name}.csv`, import.meta.url), 'utf8');
  const lines = text.split(/\r?\n/).filter((line) => line.trim() !== '' && !line.startsWith('#'));
  const columns = cellsOf(lines[0]);
  const missing = REQUIRED.filter((column) => !columns.includes(column));
  if (missing.length > 0) throw new Error(`${name}.csv has no column ${missing.join(', ')}`);
  const ids = new Set<string>();
  return lines.slice(1).map((line) => {
    const cells = cellsOf(line);
    const where = `${name}.csv, row ${cells[0]}`;
    if (cells.length !== columns.length)
      throw new Error(`${where}: ${cells.length} cells, ${columns.length} columns`);
    const word = (column: string): string => {
      const at = columns.indexOf(column);
      if (at < 0) throw new Error(`${where}: there is no column ${column}`);
      return cells[at];
    };
    const input = (column: string): number | undefined => {
      const cell = word(column);
      if (cell === '') return undefined;
      const value = Number(cell);
      if (!Number.isFinite(value)) throw new Error(`${where}: ${column} is "${cell}", no number`);
      return value;
    };
    const need = (column: string): number => {
      const value = input(column);
      if (value === undefined) throw new Error(`${where}: ${column} is empty`);
      return value;
    };
    const kind = word('kind');
    if (!KINDS.includes(kind)) throw new Error(`${where}: kind is "${kind}"`);
    if (word('source') === '') throw new Error(`${where}: no source`);
    const id = word('id');
    if (ids.has(id)) throw new Error(`${where}: the id appears twice`);
    ids.add(id);
    return {
      id,
      expected: need('expected'),
      unit: word('unit'),
      tolerance: need('tolerance'),
      kind: kind as CheckValue['kind'],
      source: word('source'),
      note: word('note'),
      input,
      need,
      word,
    };
  });
}

function cellsOf(line: string): string[] {
  const cells: string[] = [];
  let cell = '';
  let isQuoted = false;
  for (let i = 0; i < line.length; i++) {
    const sign = line[i];
    if (isQuoted && sign === '"' && line[i + 1] === '"') {
      cell += '"';
      i++;
    } else if (sign === '"') isQuoted = !isQuoted;
    else if (sign === ',' && !isQuoted) {
      cells.push(cell);
      cell = '';
    } else cell += sign;
  }
  cells.push(cell);
  return cells;
}

/** Computes the row with the function named in its column `quantity`; throws if there is none. */
export function worked(row: CheckValue, by: Record<string, () => number | undefined>): number {
  const value = by[row.word('quantity')]?.();
  if (value === undefined) throw new Error(`${row.id}: nothing was computed for ${row.word('quantity')}`);
  return value;
}
