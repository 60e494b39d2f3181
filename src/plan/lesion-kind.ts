import type { Case } from '../case/case.js';
import { listedStructures } from '../case/listed-structures.js';

export interface LesionKind {
  kind?: 'simple' | 'complex' | 'diffuse';
  because: string;
}

/**
 * Simple: fed from one segmental artery; complex: from two or more (White et al., Radiology 1983;147:663 and
 * 1988;169:663, from memory). Segments are counted, not feeders: several feeders of one segment are simple.
 * A diffuse lesion is diagnosed by angiography (`lesion.kind` in the case) and never inferred from surfaces.
 */
export function lesionKind(patientCase: Case): LesionKind {
  if (patientCase.lesion.kind !== undefined)
    return { kind: patientCase.lesion.kind, because: 'stated in the case' };
  const feeders = (listedStructures(patientCase) ?? []).filter((one) => one.role === 'feeder');
  if (feeders.length === 0) return { because: 'the case names no feeder' };
  if (feeders.length === 1) return { kind: 'simple', because: 'one feeding artery' };
  const named = feeders.map((f) => segmentOf(f.arisesFrom));
  if (named.every((s) => s !== undefined)) {
    const segments = [...new Set(named)].sort();
    return {
      kind: segments.length === 1 ? 'simple' : 'complex',
      because: `${feeders.length} feeding arteries of ${segments.length === 1 ? 'one segment' : `${segments.length} segments`} (${segments.join(', ')})`,
    };
  }
  const listed = patientCase.lesion.segments;
  if (listed.length === 1)
    return {
      kind: 'simple',
      because: `${feeders.length} feeding arteries, all in the one segment listed (${listed[0]})`,
    };
  return {
    kind: 'complex',
    because: `${feeders.length} feeding arteries; assumed to come from different segments, since the case does not name the segment of each`,
  };
}

/** `A9` or `A1+2` in `A9 of the left lower lobe`, without the subsegment's letter. */
function segmentOf(arisesFrom: string | undefined): string | undefined {
  return /\bA(?:10|[1-9])(?:\+(?:10|[1-9]))?(?=[a-c]?\b)/.exec(arisesFrom ?? '')?.[0];
}
