import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { UnnamedEnd } from './measure.js';

/** Findings for the unnamed ends of a surface, largest first; `all` is the total number of ends. Empty if there are none. */
export function unnamedFindings(
  ends: readonly UnnamedEnd[],
  all: number,
  where: string,
  cure: string,
): Finding[] {
  if (ends.length === 0) return [];
  const joined = ends.filter((end) => end.atMm !== undefined);
  const atSac = ends.filter((end) => end.leadsTo === 'sac');
  const said = [
    `${ends.length} of ${all} open or blind ends of the surface have no name; the largest is ${placed(ends[0])}.`,
    joined.length > 0 &&
      `${joined.length === 1 ? 'One joins' : `${joined.length} join`} a measured path: ${listed(joined, (end) => `${end.branch ?? 'one with it'} joins ${end.leadsTo} ${fixed(end.atMm!, 1)} mm from its far end, ${placed(end)}`)}. Each counts as a branch: no landing zone goes past it, and it is to be kept until someone has checked it.`,
    atSac.length > 0 &&
      `${atSac.length === 1 ? 'One leads' : `${atSac.length} lead`} to the sac itself: ${listed(atSac, placed)}. A feeder or drain that nobody named? Size and volume of the sac include it.`,
    cure,
  ];
  const level = joined.length + atSac.length > 0 ? 'caution' : 'note';
  return [finding(level, 'unnamed-ends', where, said.filter(Boolean).join(' '))];
}

const placed = ({ calibreMm, pointMm }: UnnamedEnd): string =>
  `${fixed(calibreMm, 1)} mm across at ${pointText(pointMm, 2)} mm`;

const MOST_SAID = 5;

const listed = (ends: readonly UnnamedEnd[], text: (end: UnnamedEnd) => string): string =>
  ends.slice(0, MOST_SAID).map(text).join('; ') +
  (ends.length > MOST_SAID ? `; and ${ends.length - MOST_SAID} smaller` : '');
