import { readFileSync } from 'node:fs';

/** Root of the repository. */
export const ROOT = new URL('../../', import.meta.url);

/** Text of a file in the repository. */
export const textOf = (path: string): string => readFileSync(new URL(path, ROOT), 'utf8');

/** Targets of the links in a Markdown text. */
export const linksOf = (markdown: string): string[] =>
  [...markdown.matchAll(/\]\(([^)\s]+)\)/g)].map((match) => match[1]);

/** Anchor of a heading, as code hosts generate it. */
const anchorOf = (heading: string): string =>
  heading
    .toLowerCase()
    .replace(/[^\p{L}\p{N} -]/gu, '')
    .replaceAll(' ', '-');

/** Anchors of all headings of a Markdown text. */
export const anchorsOf = (markdown: string): string[] =>
  [...markdown.matchAll(/^#+ (.+)$/gm)].map((match) => anchorOf(match[1]));

/** Lines of the fenced blocks of one language, without what follows a hash. */
export const blockLines = (markdown: string, language: string): string[] =>
  [...markdown.matchAll(/^```(\w+)\n(.*?)^```$/gms)]
    .filter((match) => match[1] === language)
    .flatMap((match) => match[2].split('\n'))
    .map((line) => line.replace(/\s+#.*$/, '').trim())
    .filter((line) => line !== '');

/** Code spans outside fenced blocks. */
export const codeSpans = (markdown: string): string[] =>
  [...markdown.replace(/^```.*?^```$/gms, '').matchAll(/`([^`\n]+)`/g)].map((match) => match[1]);

/** Rows of every table in a Markdown text: cells without surrounding white space. */
export const tableRows = (markdown: string): string[][] =>
  markdown
    .split('\n')
    .filter((line) => line.startsWith('|') && !/^[|\s:-]+$/.test(line))
    .map((line) =>
      line
        .split('|')
        .slice(1, -1)
        .map((cell) => cell.trim()),
    );

/** The part below a heading, up to the next one of the same or a higher level. */
export function sectionOf(markdown: string, heading: string): string {
  const start = markdown.indexOf(`\n${heading}\n`);
  if (start < 0) throw new Error(`there is no heading "${heading}"`);
  const rank = heading.indexOf(' ');
  const rest = markdown.slice(start + heading.length + 2);
  return rest.split(new RegExp(`^#{1,${rank}} `, 'm'))[0];
}
