/**
 * Colours that remain distinguishable with the common colour-vision deficiencies. Source: Okabe and Ito, Color Universal Design (CUD),
 * 2008. Items also differ by dash, hatch, shape or label.
 */
import { element } from './svg.js';

export const COLOURS = {
  black: '#000000',
  orange: '#E69F00',
  skyBlue: '#56B4E9',
  green: '#009E73',
  yellow: '#F0E442',
  blue: '#0072B2',
  vermilion: '#D55E00',
  purple: '#CC79A7',
} as const;

/**
 * Blue through near white to red, for signed distances; both ends remain distinguishable with the common colour-vision deficiencies.
 * Source: the nine-class scheme RdBu of Harrower and Brewer, Cartogr J 2003;40:27 (from memory).
 */
export const DIVERGING = [
  '#2166ac',
  '#4393c3',
  '#92c5de',
  '#d1e5f0',
  '#f7f7f7',
  '#fddbc7',
  '#f4a582',
  '#d6604d',
  '#b2182b',
] as const;

export const GRID = '#dddddd';
export const MUTED = '#555555';

/** A hatch of parallel lines as a pattern; `id` must be unique in the page. */
export function hatch(id: string, colour: string, angle: number, gap = 6): string {
  return element(
    'defs',
    {},
    element(
      'pattern',
      { id, width: gap, height: gap, patternUnits: 'userSpaceOnUse', patternTransform: `rotate(${angle})` },
      element('line', { x1: 0, y1: 0, x2: 0, y2: gap, stroke: colour, 'stroke-width': 2 }),
    ),
  );
}
