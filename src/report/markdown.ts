/**
 * Markdown building blocks. Text from a case or a shelf goes through `markdownText` once, where it is printed; all other functions take
 * finished Markdown.
 */
import { plainLine } from './plain-line.js';

/**
 * Makes any text inert inside a Markdown paragraph, list item, heading or table cell: no markup, link, image,
 * code, heading, list, table border or automatic link survives, and the text still reads as written.
 * Newlines and tabs become one space; control characters and direction marks are dropped. A text with nothing visible becomes `(no
 * text)`, so that no cell, heading or list item is left empty.
 * Rules: CommonMark 0.31 (backslash escapes, entities) and its table and autolink extensions.
 *
 * @example markdownText('<b>a|b</b>\n# c')  // '&lt;b&gt;a\\|b&lt;/b&gt; # c'
 */
export function markdownText(text: string): string {
  const line = plainLine(text);
  if (line === '') return '(no text)';
  return line
    .replace(/[\\`*[\]|~$@]/g, '\\$&')
    .replace(/&(?=#|[A-Za-z])/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/(?<![\p{L}\p{N}])_|_(?![\p{L}\p{N}])/gu, '\\_')
    .replace(/:(?=\/)|(?<=mailto|xmpp|javascript|data):/gi, '\\:')
    .replace(/www\./gi, (match) => `${match.slice(0, -1)}\\.`)
    .replace(/^[#+=:!-]/, '\\$&')
    .replace(/^(\d{1,9})([.)])(?=\s|$)/, '$1\\$2');
}

/** `left`, or `right` for columns of numbers. */
type Align = 'left' | 'right';

/** Cells are padded to the column's widest cell, up to this limit, so that one long reason does not inflate the table. */
const WIDEST_PAD = 60;

const widthOf = (cell: string): number => [...cell].length;

/**
 * A Markdown table with padded columns. Cells are finished Markdown without newlines; an empty cell prints a dash.
 * Throws on a table without rows: the caller must state in a sentence why there is nothing.
 */
export function table(
  headings: readonly string[],
  rows: readonly string[][],
  align: readonly Align[] = [],
): string {
  if (rows.length === 0) throw new RangeError('a table without rows');
  const filled = rows.map((row) => headings.map((_, i) => row[i] || '–'));
  const widths = headings.map((heading, i) =>
    Math.max(
      3,
      ...[heading, ...filled.map((row) => row[i]!)].map((cell) => Math.min(widthOf(cell), WIDEST_PAD)),
    ),
  );
  const pad = (cell: string, i: number): string => {
    const gap = ' '.repeat(Math.max(0, widths[i]! - widthOf(cell)));
    return align[i] === 'right' ? gap + cell : cell + gap;
  };
  const line = (cells: readonly string[]): string => `| ${cells.map(pad).join(' | ')} |`;
  const rule = widths.map((w, i) => (align[i] === 'right' ? `${'-'.repeat(w + 1)}:` : '-'.repeat(w + 2)));
  return [line(headings), `|${rule.join('|')}|`, ...filled.map(line)].join('\n');
}

/** A bullet list of finished Markdown. */
export const bullets = (items: readonly string[]): string => items.map((item) => `- ${item}`).join('\n');

/** A numbered list of finished Markdown; continuation lines of an item are indented. */
export const numbered = (items: readonly string[]): string =>
  items
    .map((item, i) => `${i + 1}. ${item.replace(/\n/g, `\n${' '.repeat(String(i + 1).length + 2)}`)}`)
    .join('\n');

/** A heading and its blocks, with one blank line between them. Empty blocks are dropped; throws if no block is left. */
export function section(level: 1 | 2 | 3, heading: string, blocks: readonly (string | undefined)[]): string {
  const kept = blocks.filter((block): block is string => block !== undefined && block !== '');
  if (kept.length === 0) throw new RangeError(`an empty section: ${heading}`);
  return [`${'#'.repeat(level)} ${heading}`, ...kept].join('\n\n');
}

/** Joins sections into a document that ends with one newline. */
export const document = (sections: readonly string[]): string => `${sections.join('\n\n')}\n`;

/** Escapes a text of the case and ends it with a full stop, unless it already ends with punctuation; for use after a colon. */
export function clause(text: string): string {
  const safe = markdownText(text);
  return /[.!?:]$/.test(safe) ? safe : `${safe}.`;
}

/**
 * Escapes a text of the case and makes it a sentence: a capital at the start, unless the first word may be a code or a name (anything but
 * lower-case letters), and a full stop, unless it already ends with punctuation.
 */
export function sentence(text: string): string {
  return clause(text).replace(/^[a-z](?=[a-z]*[ ,;:.])/, (first) => first.toUpperCase());
}
