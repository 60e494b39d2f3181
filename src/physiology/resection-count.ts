import type { Case } from '../case/case.js';
import { CONSTANTS } from '../reference/constants.js';
import {
  countedSegments,
  lobeSegments,
  lobesOf,
  segmentNames,
  type Side,
  subsegmentsOf,
} from './lung-segments.js';

/** Number of segments that a resection takes and leaves; the same count is used for lung function and for pressure. */
export interface ResectionCount {
  side: Side;
  extent: 'lobe' | 'segments' | 'wedge';
  /** As text: `the right upper lobe`, `S8 of the right lung`. */
  what: string;
  /** Segments taken, as counted. */
  taken: string[];
  /** Segments that are not ventilated, as named in the case; a lesion alone does not obstruct. */
  obstructed: string[];
  /** Working segments of both lungs, now and after the resection. */
  working: number;
  left: number;
  /** Part of the function that remains: `left / working`. */
  kept: number;
  /** The same by subsegments. */
  keptBySubsegments: number;
}

/** Working segments of both lungs, now and after resection; each given once. */
export function segmentsLeft(
  taken: readonly string[],
  obstructed: readonly string[],
): { working: number; left: number } {
  const working = CONSTANTS.segmentsBothLungs.value - obstructed.length;
  return { working, left: working - taken.filter((segment) => !obstructed.includes(segment)).length };
}

/**
 * Counts what plan B of the case takes: the lobe, or the segments it names (for a wedge, all of the segments it is in).
 *
 * Formula   kept = ((total − a) − b)/(total − a), a obstructed segments, b working segments taken; 19 segments, 42 subsegments
 * Source    BTS/SCTS, Thorax 2001;56:89 [bts-scts-2001, from memory] and Thorax 2010;65 suppl III [bts-2010-resection]
 * Assumes   a segment that carries a malformation breathes, so it works
 * Absent    if side, lobe or segments are missing or do not exist: `absentBecause`
 * Checked   tests/check-values/lung-function.csv
 */
export function countResection(
  lesion: Pick<Case['lesion'], 'side' | 'lobe' | 'segments'>,
  surgery: Pick<Case['surgery'], 'extent' | 'segments' | 'obstructedSegments'>,
): ResectionCount | { absentBecause: string } {
  const { side } = lesion;
  if (side === undefined) return { absentBecause: 'the side is not given' };
  const taken = takenSegments(side, lesion, surgery);
  if ('absentBecause' in taken) return taken;
  const blocked = countedSegments(side, surgery.obstructedSegments ?? []);
  if (blocked.unknown.length > 0)
    return { absentBecause: `there is no segment ${blocked.unknown.join(', ')} on the ${side}` };
  const obstructed = blocked.known;
  const { working, left } = segmentsLeft(taken.segments, obstructed);
  const inSubsegments = (segments: readonly string[]) =>
    segments.reduce((sum, segment) => sum + subsegmentsOf(side, segment), 0);
  const workingSub = CONSTANTS.subsegmentsBothLungs.value - inSubsegments(obstructed);
  const takenSub = inSubsegments(taken.segments.filter((s) => !obstructed.includes(s)));
  return {
    side,
    extent: taken.extent,
    what: taken.what,
    taken: taken.segments,
    obstructed,
    working,
    left,
    kept: left / working,
    keptBySubsegments: (workingSub - takenSub) / workingSub,
  };
}

/** The segments that plan B takes. Segments named without an extent mean a segmentectomy. */
function takenSegments(
  side: Side,
  lesion: Pick<Case['lesion'], 'lobe' | 'segments'>,
  surgery: Pick<Case['surgery'], 'extent' | 'segments'>,
): { extent: ResectionCount['extent']; segments: string[]; what: string } | { absentBecause: string } {
  const extent = surgery.extent ?? (surgery.segments === undefined ? 'lobe' : 'segments');
  if (extent === 'lobe') {
    const { lobe } = lesion;
    if (lobe === undefined) return { absentBecause: 'the lobe is not given' };
    const whole = lobeSegments(side, lobe);
    if (whole === undefined) return { absentBecause: `there is no ${lobe} lobe on the ${side} side` };
    return {
      extent,
      segments: [...whole.segments],
      what: `the ${side} ${lobe === 'lingula' ? lobe : `${lobe} lobe`}`,
    };
  }
  const asked = surgery.segments ?? lesion.segments;
  if (asked.length === 0)
    return {
      absentBecause: `surgery.extent is ${extent} and neither surgery.segments nor lesion.segments names any`,
    };
  const { known, unknown } = countedSegments(side, asked);
  if (unknown.length > 0)
    return { absentBecause: `there is no segment ${unknown.join(', ')} on the ${side}` };
  const lobes = lobesOf(side, known);
  const names = segmentNames(side, known).join(', ');
  const what = lobes.every((lobe) => lobe.whole)
    ? `the ${side} ${lobes.map(({ lobe }) => (lobe === 'lingula' ? lobe : `${lobe} lobe`)).join(' and ')} (${names})`
    : `${names} of the ${side} lung`;
  return {
    extent,
    segments: known,
    what: extent === 'wedge' ? `a wedge of ${names} of the ${side} lung` : what,
  };
}
