/** SVG as strings: escaped, deterministic, no clock, no random ids. */
import { rounded } from '../../foundation/number-text.js';
import { plainLine } from '../plain-line.js';

/** A box of a figure, px. */
export interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

type Attributes = Record<string, string | number | undefined>;

/** Escapes text for XML content and attribute values; whitespace becomes single spaces. */
export function xmlText(text: string): string {
  return plainLine(text)
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
    .replace(/'/g, '&#39;');
}

/** Children clipped to a box. */
export function clipped(id: string, { left, right, top, bottom }: Box, ...children: string[]): string {
  const rect = element('rect', { x: left, y: top, width: right - left, height: bottom - top });
  const defs = element('defs', {}, element('clipPath', { id }, rect));
  return defs + element('g', { 'clip-path': `url(#${id})` }, ...children);
}

/** One element. Numbers are rounded to hundredths of a pixel; strings are escaped; `children` is finished SVG. */
export function element(name: string, attributes: Attributes, ...children: string[]): string {
  const written = Object.entries(attributes)
    .filter(([, value]) => value !== undefined)
    .map(
      ([key, value]) => ` ${key}="${typeof value === 'number' ? rounded(value, 2) : xmlText(value ?? '')}"`,
    )
    .join('');
  return children.length > 0 ? `<${name}${written}>${children.join('')}</${name}>` : `<${name}${written}/>`;
}

const FONT = 'sans-serif';
export const FONT_SIZE = 13;

/** Estimated width of a text at a font size, px, from a generous mean glyph width of a sans-serif face. */
export const textWidth = (text: string, size = FONT_SIZE): number => [...text].length * size * 0.6;

/** Shortens a text to a width, px, with an ellipsis. */
export function fitText(text: string, width: number, size = FONT_SIZE): string {
  const glyphs = [...text.replace(/\s+/g, ' ').trim()];
  const room = Math.max(1, Math.floor(width / (size * 0.6)));
  return glyphs.length <= room ? glyphs.join('') : `${glyphs.slice(0, room - 1).join('')}…`;
}

/** Breaks a text at spaces into lines of a width, px; at most `most` lines, the last one truncated. */
export function wrapText(text: string, width: number, most: number, size = FONT_SIZE): string[] {
  const lines: string[] = [];
  let rest = text.replace(/\s+/g, ' ').trim();
  const room = Math.max(4, Math.floor(width / (size * 0.6)));
  while (rest !== '' && lines.length < most) {
    if ([...rest].length <= room || lines.length === most - 1) {
      lines.push(fitText(rest, width, size));
      break;
    }
    const cut = rest.lastIndexOf(' ', room);
    const end = cut > 0 ? cut : room;
    lines.push(rest.slice(0, end));
    rest = rest.slice(end).trim();
  }
  return lines;
}

interface TextStyle {
  anchor?: 'start' | 'middle' | 'end';
  size?: number;
  bold?: boolean;
  fill?: string;
  /** A white outline that keeps a label legible over lines. */
  halo?: boolean;
  rotate?: number;
}

/** A text at a baseline point. */
export function label(text: string, x: number, y: number, style: TextStyle = {}): string {
  return element(
    'text',
    {
      x,
      y,
      'text-anchor': style.anchor ?? 'start',
      'font-size': style.size ?? FONT_SIZE,
      'font-weight': style.bold ? 'bold' : undefined,
      fill: style.fill ?? '#000000',
      stroke: style.halo ? '#ffffff' : undefined,
      'stroke-width': style.halo ? 4 : undefined,
      'paint-order': style.halo ? 'stroke' : undefined,
      transform: style.rotate ? `rotate(${style.rotate} ${rounded(x, 2)} ${rounded(y, 2)})` : undefined,
    },
    xmlText(text),
  );
}

/** A straight line. */
export function line(
  x1: number,
  y1: number,
  x2: number,
  y2: number,
  stroke: string,
  width = 1,
  dash?: string,
): string {
  return element('line', { x1, y1, x2, y2, stroke, 'stroke-width': width, 'stroke-dasharray': dash });
}

/** A file name or id from any name: letters, digits and dashes. */
export function slug(name: string): string {
  const plain = name
    .normalize('NFKD')
    .replace(/[^A-Za-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 40);
  return plain || 'unnamed';
}

/** Whether a text is the picture that `figure` made under this file name. */
export const isFigure = (name: string, text: string): boolean =>
  text.startsWith('<svg ') && text.includes(`aria-labelledby="${name.replace(/\.svg$/, '')}-title `);

/** A complete figure with title and description for screen readers. */
export function figure(
  id: string,
  size: { width: number; height: number },
  words: { title: string; desc: string },
  ...children: string[]
): string {
  const key = slug(id);
  return `${element(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      viewBox: `0 0 ${rounded(size.width, 2)} ${rounded(size.height, 2)}`,
      width: size.width,
      height: size.height,
      role: 'img',
      'aria-labelledby': `${key}-title ${key}-desc`,
      'font-family': FONT,
      'font-size': FONT_SIZE,
    },
    `\n${element('title', { id: `${key}-title` }, xmlText(words.title))}`,
    `\n${element('desc', { id: `${key}-desc` }, xmlText(words.desc))}`,
    `\n${element('rect', { x: 0, y: 0, width: size.width, height: size.height, fill: '#ffffff' })}`,
    ...children.map((child) => `\n${child}`),
    '\n',
  )}\n`;
}
