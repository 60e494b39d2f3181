/** Numbered sources of one document: running text carries a short mark, the list at the end names each source once. */
import { COMMON_PRACTICE, SOURCES, type Source } from '../reference/sources.js';
import { citeOf, sourceText } from '../rules/source-text.js';
import { clause, markdownText, numbered, section, sentence } from './markdown.js';

/** Mark of common practice that has no published source. */
const PRACTICE_MARK = '[cp]';

/** The source stated in rules that rest on a definition of this program. */
const OWN_DEFINITION = 'definition of this tool';

/** Placeholders for a mark while a text is escaped: private-use characters, removed from the case's texts beforehand. */
const OPEN = '\ue000';
const CLOSE = '\ue001';

/** Each source as texts name it in brackets, with its full citation. */
const IN_BRACKETS: readonly (readonly [string, string])[] = [
  [COMMON_PRACTICE, COMMON_PRACTICE] as const,
  [OWN_DEFINITION, OWN_DEFINITION] as const,
  ...Object.keys(SOURCES).flatMap((key) => [
    [sourceText(key), sourceText(key)] as const,
    [citeOf(key), sourceText(key)] as const,
  ]),
].sort(([a], [b]) => b.length - a.length);

/** How a source was read, as a symbol after it; the legend is in `section`. */
const READ_SIGNS: Record<Source['read'], string> = { opened: '', excerpt: '†', secondary: '‡', memory: '§' };
const LEGEND = '† abstract or quoted table read, not the whole; ‡ as quoted elsewhere; § from memory.';

/** Each source by its full citation, as printed in a list. */
const LISTED: ReadonlyMap<string, string> = new Map(
  Object.entries<Source>(SOURCES).map(([key, { cite, read }]) => [
    sourceText(key),
    `${cite}${READ_SIGNS[read]}`,
  ]),
);

/** Hands out marks in the order of first use. */
export class Citations {
  private readonly numbers = new Map<string, number>();
  private hasPractice = false;

  /** `[3]` or `[cp]` for a source key or a rule's source text. */
  mark(source: string): string {
    const full = sourceText(source);
    if (full === COMMON_PRACTICE) {
      this.hasPractice = true;
      return PRACTICE_MARK;
    }
    const number = this.numbers.get(full) ?? this.numbers.size + 1;
    this.numbers.set(full, number);
    return `[${number}]`;
  }

  /** A text as a sentence (see `markdown.ts`); sources that it names in brackets become marks. */
  sentence(text: string): string {
    return this.escaped(text, sentence);
  }

  /** A text for use after a colon; sources that it names in brackets become marks. */
  clause(text: string): string {
    return this.escaped(text, clause);
  }

  /** Finished Markdown, with the sources that it names in brackets as marks. */
  marked(markdown: string): string {
    return this.escaped(markdown, (same) => same);
  }

  private escaped(text: string, render: (text: string) => string): string {
    if (!text.includes('(')) return render(text);
    let bare = text.replace(/[\ue000\ue001]/g, '');
    const marks: string[] = [];
    const met = IN_BRACKETS.flatMap(([words, full]) => {
      const at = bare.indexOf(`(${words})`);
      return at < 0 ? [] : [{ at, full }];
    });
    // Numbers increase through the text.
    for (const { full } of met.sort((a, b) => a.at - b.at)) this.mark(full);
    for (const [words, full] of IN_BRACKETS) {
      if (!bare.includes(`(${words})`)) continue;
      const mark = this.mark(full);
      for (let at = bare.indexOf(`(${words})`); at >= 0; at = bare.indexOf(`(${words})`)) {
        marks.push(mark);
        const [before, after] = [bare.slice(0, at).trimEnd(), bare.slice(at + words.length + 2)];
        // a full stop after the bracket belongs to the sentence before it
        const rest = after.startsWith('.') && /[.!?]$/.test(before) ? after.slice(1) : after;
        bare = `${before} ${OPEN}${marks.length - 1}${CLOSE}${rest}`;
      }
    }
    if (marks.length === 0) return render(text);
    const trailing = new RegExp(`((?: ${OPEN}\\d+${CLOSE})+)\\.?$`).exec(bare);
    const body = trailing ? bare.slice(0, trailing.index) : bare;
    return `${render(body)}${trailing?.[1] ?? ''}`.replace(
      new RegExp(`${OPEN}(\\d+)${CLOSE}`, 'g'),
      (_, index) => marks[Number(index)],
    );
  }

  /** All sources cited so far, in one paragraph. */
  line(): string {
    const rows = this.rows().map((row, i) => `[${i + 1}] ${row}`);
    return `Sources: ${[...rows, ...this.practice()].join('; ')}. ${LEGEND}`;
  }

  /** The list of all sources cited so far. */
  section(): string {
    const rows = this.rows();
    const practice = this.practice();
    return section(2, 'Sources', [
      rows.length > 0 ? numbered(rows) : undefined,
      practice.length > 0 ? `${practice[0]}.` : undefined,
      rows.length + practice.length > 0 ? LEGEND : 'Nothing here depends on a source.',
    ]);
  }

  private rows(): string[] {
    return [...this.numbers.keys()].map((full) => markdownText(LISTED.get(full) ?? full));
  }

  private practice(): string[] {
    return this.hasPractice ? [`${PRACTICE_MARK} ${COMMON_PRACTICE}`] : [];
  }
}
