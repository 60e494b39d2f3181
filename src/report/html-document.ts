/** A printable page from the Markdown documents, and what all pages share: escaping and content policy. */
import { createHash } from 'node:crypto';
import type { Figure } from './figures/figures.js';
import { plainLine } from './plain-line.js';

/**
 * Escapes text for HTML content and attribute values; whitespace becomes single spaces; characters that hide or reorder text are dropped.
 */
export function htmlText(text: string): string {
  return htmlSigns(plainLine(text));
}

/** Escapes only the five special characters of HTML. */
function htmlSigns(text: string): string {
  return text
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
    .replace(/'/g, '&#39;');
}

/** JSON that is safe inside a script element: no tag, comment or line separator survives. */
export function jsonForHtml(value: unknown): string {
  return JSON.stringify(value).replace(
    /[<>&\u2028\u2029]/g,
    (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}

const hashOf = (text: string): string =>
  `'sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}'`;

/**
 * The content policy of a page as a meta element: nothing is fetched, only the scripts and styles written here run (by SHA-256 of their
 * exact text), and pictures come from the page.
 * Source: W3C Content Security Policy Level 3 (hash sources, 'none', data:).
 */
export function contentPolicy(styles: readonly string[], scripts: readonly string[] = []): string {
  const list = (texts: readonly string[]): string => texts.map(hashOf).join(' ') || "'none'";
  const policy = [
    "default-src 'none'",
    `style-src ${list(styles)}`,
    `script-src ${list(scripts)}`,
    'img-src data:',
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ');
  return `<meta http-equiv="Content-Security-Policy" content="${policy}">`;
}

/** Turns our Markdown into HTML; raw HTML in it stays text. */
export interface MarkdownHtml {
  block(markdown: string, figures?: readonly Figure[]): string;
  /** One line, without a paragraph around it. */
  inline(markdown: string): string;
}

/**
 * The Markdown renderer (CommonMark with tables; raw HTML is escaped, nothing is linked automatically).
 * Images become the figures of the same name, inline; any other picture becomes its alternative text.
 * `[ ]` at the start of a list item becomes an empty box. No style attribute is written, since the policy forbids it.
 */
export async function markdownHtml(): Promise<MarkdownHtml> {
  const { default: MarkdownIt } = await import('markdown-it');
  const parser = new MarkdownIt({ html: false, linkify: false, typographer: false });
  parser.renderer.rules.image = (tokens, index, _options, env) => {
    const token = tokens[index];
    const name = decodeURIComponent(String(token.attrGet('src') ?? '').replace(/^figures\//, ''));
    const { figures } = env as { figures?: readonly Figure[] };
    const figure = figures?.find((one) => one.name === name);
    if (!figure) return `<em>${htmlText(token.content)}</em>`;
    return isWide(figure.svg) ? `<span class="wide">${figure.svg}</span>` : figure.svg;
  };
  for (const cell of ['th_open', 'td_open'])
    parser.renderer.rules[cell] = (tokens, index) => {
      const right = tokens[index].attrGet('style') === 'text-align:right';
      return `<${tokens[index].tag}${right ? ' class="number"' : ''}>`;
    };
  parser.renderer.rules.text = (tokens, index) => {
    const { content } = tokens[index];
    if (index === 0 && content.startsWith('[ ] '))
      return `<span class="box">☐</span> ${breakable(content.slice(4))}`;
    return breakable(content);
  };
  return {
    block: (markdown, figures) => parser.render(markdown, { figures }),
    inline: (markdown) => parser.renderInline(markdown, {}),
  };
}

/** A figure wider than this, in its own units, is illegible at half the width of a sheet. */
const HALF_SHEET = 1000;

const isWide = (svg: string): boolean => Number(/viewBox="\S+ \S+ (\S+) \S+"/.exec(svg)?.[1]) > HALF_SHEET;

/** Escapes a text and lets long runs without a space (hashes, paths) break, so that no table grows beyond the paper. */
function breakable(text: string): string {
  return text
    .split(/(\S{33,})/)
    .map((part, i) => (i % 2 === 0 ? [part] : (part.match(/.{1,16}/gsu) ?? [])).map(htmlSigns).join('<wbr>'))
    .join('');
}

export interface HtmlDocument {
  title: string;
  /** Finished Markdown documents, one after another; each starts on a new sheet. */
  parts: readonly string[];
  /** Figures that the documents link to as `figures/NAME`. */
  figures: readonly Figure[];
}

/** One self-contained printable page: no script, no request, figures inline. Same input, same bytes. */
export async function htmlDocument({ title, parts, figures }: HtmlDocument): Promise<string> {
  const { block } = await markdownHtml();
  const body = parts.map((part) => `<article>\n${block(part, figures)}</article>\n`).join('');
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    contentPolicy([STYLE]),
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${htmlText(title)}</title>`,
    `<style>${STYLE}</style>`,
    '</head>',
    `<body>\n${body}</body>`,
    '</html>\n',
  ].join('\n');
}

const STYLE = `
:root { color-scheme: light; }
body { font: 11pt/1.45 "Liberation Sans", Arial, sans-serif; color: #111; background: #fff; margin: 0 auto; max-width: 62rem; padding: 1.5rem; }
article + article { border-top: 3px double #111; margin-top: 3rem; padding-top: 1rem; }
h1 { font-size: 1.6em; line-height: 1.2; margin: 0 0 .6em; }
h2 { font-size: 1.2em; margin: 1.8em 0 .5em; border-bottom: 1px solid #888; padding-bottom: .15em; }
h3 { font-size: 1em; margin: 1.4em 0 .4em; }
h1, h2, h3, p:has(+ ul, + ol, + table) { break-after: avoid; }
p, li { orphans: 3; widows: 3; }
table { border-collapse: collapse; width: 100%; margin: .6em 0 1em; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid #bbb; padding: .3em .5em; text-align: left; vertical-align: top; }
th { background: #f1efe9; }
td { hyphens: auto; }
.number { text-align: right; }
tr, li, svg { break-inside: avoid; }
li { margin: .25em 0; }
.box { font-size: 1.25em; line-height: 1; }
svg { max-width: 100%; height: auto; margin: .8em 0; }
@media print {
  @page { size: A4; margin: 11mm 12mm; }
  body { font-size: 8.5pt; line-height: 1.3; max-width: none; padding: 0; }
  h1 { font-size: 1.4em; margin-bottom: .3em; }
  h2 { margin: .9em 0 .3em; }
  h3 { margin: .7em 0 .2em; }
  p { margin: .4em 0; }
  ul, ol { margin: .3em 0; padding-left: 1.6em; }
  li { margin: .1em 0; }
  article > ol:last-of-type { columns: 2; column-gap: 2em; }
  p:has(> svg) { display: inline-block; width: 49%; margin: 0; vertical-align: top; }
  .wide svg { max-height: 80mm; width: 100%; }
  svg { max-height: 62mm; margin: .2em 0; }
  table { font-size: 7.5pt; margin: .3em 0 .5em; }
  th, td { padding: .1em .3em; }
  article + article { break-before: page; border: 0; margin: 0; padding: 0; }
}
`;
