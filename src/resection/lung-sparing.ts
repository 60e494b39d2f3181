import { listedStructures } from '../case/listed-structures.js';
import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { type PredictedLungFunction, predictLungFunction } from '../physiology/lung-function.js';
import { countedSegments, segmentNames } from '../physiology/lung-segments.js';
import { countResection, type ResectionCount } from '../physiology/resection-count.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';

type Resection = NonNullable<Result['resection']>;

/**
 * The margin that the surfaces show between the lesion and the remaining lung: the distance from the sac to each branch of a remaining
 * segment (the intersegmental plane is between the two, so the margin is smaller), and to the surface of the lung. If the surfaces show
 * nothing, the text says so. mm.
 */
export function sparingMargin(
  patientCase: Case,
  lesion: LesionMeasure | undefined,
  count: ResectionCount,
  rules: Rules,
): string[] {
  const parts = listedStructures(patientCase) ?? [];
  const fromSac = (lesion?.neighbours ?? []).filter((entry) => entry.from === 'sac');
  const lines: string[] = [];
  for (const { to, distanceMm } of fromSac) {
    const supplies = parts.find((part) => part.name === to)?.supplies;
    if (supplies === undefined) continue;
    const stays = countedSegments(count.side, [supplies]).known.filter((name) => !count.taken.includes(name));
    if (stays.length === 0) continue;
    lines.push(
      `The plane between the lesion and ${segmentNames(count.side, stays).join(', ')} lies between the sac and ${to}, ${fixed(distanceMm, 1)} mm apart: the margin is smaller than that.`,
    );
  }
  if (lines.length === 0)
    lines.push(
      'No margin to the plane between the segments can be given: no surface shows that plane, and no measured branch to be spared names a segment that stays (`supplies`). Judge it by the veins between the segments on the CT.',
    );
  for (const { name, depthMm } of edges(patientCase, lesion))
    lines.push(`The sac lies ${fixed(depthMm, 1)} mm from ${name}.`);
  const depth = Math.min(...edges(patientCase, lesion).map((edge) => edge.depthMm));
  const localise = numberOf(rules, 'wedge-localise');
  if (count.extent === 'wedge' && Number.isFinite(depth) && depth >= localise)
    lines.push(
      `From ${localise} mm below the pleura the place is marked before the operation: it may not be seen.`,
    );
  return lines;
}

/** Surfaces of the lung's edge (lobe or chest wall) with the depth of the sac below each. */
function edges(patientCase: Case, lesion: LesionMeasure | undefined): { name: string; depthMm: number }[] {
  const isEdge = (name: string): boolean =>
    (listedStructures(patientCase) ?? []).some(
      (part) => part.name === name && (part.role === 'lobe' || part.role === 'chest-wall'),
    );
  return (lesion?.neighbours ?? [])
    .filter((entry) => entry.from === 'sac' && isEdge(entry.to))
    .map((entry) => ({ name: entry.to, depthMm: entry.distanceMm }));
}

/**
 * Whether the requested resection is possible: the resected segments must contain the lesion (stop), and a wedge needs sac and feeders at
 * the edge of the lung (stop if they are deeper, caution if no surface shows it).
 */
export function sparingFindings(
  patientCase: Case,
  lesion: LesionMeasure | undefined,
  count: ResectionCount,
  rules: Rules,
): Finding[] {
  const found: Finding[] = [];
  const held = countedSegments(count.side, patientCase.lesion.segments).known;
  const missed = held.filter((name) => !count.taken.includes(name));
  if (count.extent !== 'lobe' && missed.length > 0) {
    const text = `The lesion also lies in ${segmentNames(count.side, missed).join(', ')}, which plan B leaves: it takes ${count.what}. Add them to surgery.segments, or correct lesion.segments.`;
    found.push(finding('stop', 'resection-misses-lesion', 'surgery.segments', text));
  }
  if (count.extent !== 'wedge') return found;
  const limit = numberOf(rules, 'wedge-edge');
  const feeders = (lesion?.vessels ?? []).filter((vessel) => vessel.role === 'feeder');
  const sacEdges = edges(patientCase, lesion);
  const zoneDepth = (feeder: string): number =>
    Math.min(
      ...(lesion?.neighbours ?? [])
        .filter(
          ({ from, to }) => from === `${feeder} landing zone` && sacEdges.some((edge) => edge.name === to),
        )
        .map((entry) => entry.distanceMm),
    );
  const depths = [
    { name: 'the sac', depthMm: Math.min(...sacEdges.map((edge) => edge.depthMm)) },
    ...feeders.map(({ name }) => ({ name: `the neck of ${name}`, depthMm: zoneDepth(name) })),
  ];
  const deep = depths.filter(({ depthMm }) => Number.isFinite(depthMm) && depthMm > limit);
  if (deep.length > 0) {
    const words = deep.map(({ name, depthMm }) => `${name} lies ${fixed(depthMm, 1)} mm deep`).join(', ');
    const text = `No wedge: ${words}, and a wedge is for a lesion whose sac and neck lie at the edge of the lung (up to ${limit} mm). Ask for segments or the lobe.`;
    found.push(finding('stop', 'wedge-not-at-edge', 'surgery.extent', text));
  } else if (depths.some(({ depthMm }) => !Number.isFinite(depthMm))) {
    const text =
      'Whether sac and neck lie at the edge of the lung cannot be told: no surface of the lobe or the chest wall gives their depth. Judge it on the CT; a deep one needs a segment.';
    found.push(finding('caution', 'wedge-edge-unknown', 'surgery.extent', text));
  }
  return found;
}

/**
 * Offers the segments alone instead of the lobe if function after lobectomy is low or other lesions exist; undefined if neither holds or
 * segments are already requested. Function is that of `predictLungFunction`.
 */
export function lungSparingOffer(
  patientCase: Case,
  count: ResectionCount | { absentBecause: string },
  predicted: PredictedLungFunction,
  rules: Rules,
): Resection['lung_sparing'] {
  if ('absentBecause' in count || count.extent !== 'lobe') return undefined;
  const limit = numberOf(rules, 'moderate-predicted-function');
  const because: string[] = [];
  const short = (name: string, value: number | undefined) => {
    if (value !== undefined && value <= limit)
      because.push(`${name} without ${count.what} ${fixed(value, 1)} %, not above ${limit} %`);
  };
  short('FEV1', predicted.predicted_fev1_percent);
  short('DLCO', predicted.predicted_dlco_percent);
  if (patientCase.lesion.otherLesions === 'yes')
    because.push('other lesions exist, and each may cost more lung');
  if (because.length === 0) return undefined;
  const { segments } = patientCase.lesion;
  if (segments.length === 0)
    return { because, absent_because: 'the case does not say in which segments it lies' };
  const alone = countResection(patientCase.lesion, { ...patientCase.surgery, extent: 'segments', segments });
  if ('absentBecause' in alone) return { because, absent_because: alone.absentBecause };
  if (alone.left <= count.left)
    return { because, absent_because: `the lesion lies in every segment of ${count.what}` };
  const { patient } = patientCase;
  return {
    because,
    segments: segmentNames(alone.side, alone.taken),
    ...predictLungFunction({ count: alone, spirometry: patient.spirometry, rules }),
  };
}
