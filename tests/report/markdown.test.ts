import fc from 'fast-check';
import MarkdownIt from 'markdown-it';
import { describe, expect, test } from 'vitest';
import { markdownText, section, sentence, table } from '../../src/report/markdown.js';

/** The most lenient reader: raw HTML passes. CommonMark and table rules as implemented by markdown-it. */
const reader = new MarkdownIt({ html: true });

/** Types of all tokens, including the inline ones. */
function tokenTypes(markdown: string): string[] {
  return reader
    .parse(markdown, {})
    .flatMap((token) => [token.type, ...(token.children ?? []).map((c) => c.type)]);
}

/** The visible text of the first inline token. */
function visible(markdown: string): string {
  const inline = reader.parse(markdown, {}).find((token) => token.type === 'inline');
  return (inline?.children ?? []).map((token) => token.content).join('');
}

const HOSTILE = [
  '<img src=x onerror=alert(1)>',
  '</script><script>alert(1)</script>',
  'a | b || c \\| d \\\\| e',
  '`code` ``two``',
  'one\ntwo\n\n# three\n\n- four',
  '[x](javascript:alert(1)) ![y](data:text/html,z)',
  '# leading',
  '1. list',
  '- item',
  '+ item',
  '> quote',
  '***bold*** __bold__ _it_ ~~gone~~ a_b_c',
  '&lt;b&gt; &#x3c;b&#x3e; &amp;',
  '<http://a.example> http://a.example www.a.example me@a.example mailto:me@a.example',
  '[ref]: http://a.example "t"',
  '    indented code',
  '===',
  '---',
  ':--- | ---:',
  'trailing backslash \\',
  '\u202eright to left\u202c zero\u200bwidth \u0007bell',
];

describe('markdownText', () => {
  test.each(HOSTILE)('%j is plain text in a paragraph, a heading, a list and a table', (text) => {
    const safe = markdownText(text);
    expect(tokenTypes(safe)).toEqual(['paragraph_open', 'inline', 'text', 'paragraph_close']);
    expect(tokenTypes(`## ${safe}`)).toEqual(['heading_open', 'inline', 'text', 'heading_close']);
    expect(tokenTypes(`- ${safe}`)).toEqual([
      'bullet_list_open',
      'list_item_open',
      'paragraph_open',
      'inline',
      'text',
      'paragraph_close',
      'list_item_close',
      'bullet_list_close',
    ]);
    const cells = tokenTypes(table(['A', 'B'], [[safe, 'end']]));
    expect(cells.filter((type) => type === 'td_open')).toHaveLength(2);
    expect(cells.filter((type) => !/^(table|thead|tbody|tr|th|td)_|^inline$|^text$/.test(type))).toEqual([]);
  });

  test.each(HOSTILE)('%j still reads as written, except for white space and hidden characters', (text) => {
    const plain = text
      .replace(/\s+/g, ' ')
      .replace(/[\p{Cc}\p{Cf}]/gu, '')
      .trim();
    expect(visible(markdownText(text))).toBe(plain);
  });

  test('any text stays one paragraph of plain text that reads as written', () => {
    const letters = fc.constantFrom(
      ...'ab1 \\`*_[]()<>#+-.!|~&;:@$=\n'.split(''),
      'www.',
      'http://',
      '&amp;',
    );
    fc.assert(
      fc.property(fc.array(letters, { minLength: 1, maxLength: 30 }), (parts) => {
        const text = parts.join('');
        const plain = text.replace(/\s+/g, ' ').trim();
        fc.pre(plain !== '');
        const safe = markdownText(text);
        expect(tokenTypes(safe)).toEqual(['paragraph_open', 'inline', 'text', 'paragraph_close']);
        expect(visible(safe)).toBe(plain);
      }),
      { seed: 20260320, numRuns: 2000 },
    );
  });

  test.each(['', ' \n', '\u200b'])('%j has nothing to show and says so', (text) => {
    expect(markdownText(text)).toBe('(no text)');
  });

  test('clinical text is left unchanged', () => {
    const text = "A9 of the left lower lobe, 7.6 mm (95 % interval 7.2 to 8.0 mm); Cc'O2 & SaO2, A4+5, x_1";
    expect(markdownText(text)).toBe(text);
  });
});

describe('building blocks', () => {
  test('a sentence starts with a capital and ends with one full stop, but a name keeps its letters', () => {
    expect(sentence('no landing zone')).toBe('No landing zone.');
    expect(sentence('It stands.')).toBe('It stands.');
    expect(sentence('pH is high')).toBe('pH is high.');
    expect(sentence('plug-08 fits')).toBe('plug-08 fits.');
  });

  test('a table pads its columns and never leaves a cell empty', () => {
    expect(
      table(
        ['A', 'Long'],
        [
          ['x', ''],
          ['yy', '1 mm'],
        ],
        ['left', 'right'],
      ),
    ).toBe(['| A   | Long |', '|-----|-----:|', '| x   |    – |', '| yy  | 1 mm |'].join('\n'));
  });

  test('an empty table or section is refused', () => {
    expect(() => table(['A'], [])).toThrow(RangeError);
    expect(() => section(2, 'Empty', [undefined, ''])).toThrow('an empty section: Empty');
  });
});
