import { addTo } from '../../foundation/add-to.js';
import { finding, type Finding } from '../../foundation/finding.js';
import { coordinates, fixed } from '../../foundation/number-text.js';
import { add, dot, length, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import { numberOf, type Rules } from '../../rules/rule.js';
import { normalOf, type SliceHeader } from './image-header.js';

/**
 * The positions of a series' voxels, mm LPS: the centre of voxel (i, j) of slice k is `origins[k] + i·columnStep + j·rowStep`. Slices
 * keep their own positions: neither even steps nor an untilted stack are assumed.
 */
export interface SliceStack {
  columns: number;
  rows: number;
  slices: number;
  columnStep: Vec3;
  rowStep: Vec3;
  /** Unit normal of the slices, in the direction of increasing numbers. */
  normal: Vec3;
  /** length 3·slices */
  origins: Float64Array;
  /** Positions of the slices along the normal, ascending. */
  heights: Float64Array;
  /** 1 if slices are missing between a slice and the next. */
  isGap: Uint8Array;
}

/** The geometry derived from the positions of the slices. */
export interface StackFacts {
  /** Between columns, between rows, median step along the normal. */
  spacingMm: [number, number, number];
  thicknessMm?: number | number[];
  gaps: { afterMm: number; stepMm: number }[];
  tiltDeg: number;
}

export interface SortedSlices {
  /** In the order of the stack; empty if there is a problem. */
  slices: SliceHeader[];
  stack?: SliceStack;
  facts?: StackFacts;
  /** Why the series cannot be used, as sentences with their cure. */
  problems: string[];
  findings: Finding[];
}

const MOST_LISTED = 5;
const MOST_SLICES = 2000;
const WHERE = 'scan.series';

/** Sorts the slices of one series by their position along the normal, and checks that they are one stack. */
export function sortSlices(slices: readonly SliceHeader[], rules: Pick<Rules, 'byId'>): SortedSlices {
  const failed = (problems: string[]): SortedSlices => ({ slices: [], problems, findings: [] });
  if (slices.length < 3)
    return failed([
      `It holds ${slices.length === 1 ? 'one slice' : `${slices.length} slices`}, which do not make a volume. Give the whole series.`,
    ]);
  if (slices.length > MOST_SLICES)
    return failed([
      `${slices.length} slices are more than the ${MOST_SLICES} that are read. Export the part about the lesion.`,
    ]);
  const [first] = slices;
  const normal = normalOf(first);
  const height = (s: SliceHeader): number => dot(s.positionMm, normal);
  const sorted = [...slices].sort((a, b) => height(a) - height(b) || a.file - b.file || a.frame - b.frame);
  const words = new PlaceWords(normal);
  const problems = [...mixedSlices(sorted, words, height), ...doubledSlices(sorted, words, height, rules)];
  if (problems.length > 0) return failed(problems);

  const heights = Float64Array.from(sorted, height);
  const origins = new Float64Array(3 * sorted.length);
  sorted.forEach(({ positionMm }, k) => {
    origins.set(positionMm, 3 * k);
  });
  const steps = stepsOf(heights, words, rules);
  const line = lineOf(sorted, heights, normal, words, rules);
  const thickness = thicknessOf(sorted, words);
  const findings = [...steps.findings, ...line.findings, ...thickness.findings];
  const most = Array.isArray(thickness.mm) ? Math.max(...thickness.mm) : thickness.mm;
  if (most !== undefined && steps.medianMm > numberOf(rules, 'scan-slices-apart') * most)
    findings.push(
      finding(
        'caution',
        'scan-slices-apart',
        WHERE,
        `Slices of ${fixed(most, 2)} mm are ${fixed(steps.medianMm, 2)} mm apart: tissue between them is not seen. Reconstruct with steps of at most the thickness.`,
      ),
    );
  const stack: SliceStack = {
    columns: first.columns,
    rows: first.rows,
    slices: sorted.length,
    columnStep: scale(first.along, first.columnSpacingMm),
    rowStep: scale(first.down, first.rowSpacingMm),
    normal,
    origins,
    heights,
    isGap: steps.isGap,
  };
  const facts: StackFacts = {
    spacingMm: [first.columnSpacingMm, first.rowSpacingMm, steps.medianMm],
    ...(thickness.mm !== undefined && { thicknessMm: thickness.mm }),
    gaps: steps.gaps,
    tiltDeg: line.tiltDeg,
  };
  return { slices: sorted, stack, facts, problems: [], findings };
}

/** Names positions along a stack: by the patient axis if the slices are perpendicular to one. */
class PlaceWords {
  readonly axis: string;

  constructor(normal: Vec3) {
    const main = normal.findIndex((x) => Math.abs(x) > 0.999);
    this.axis = main < 0 ? 'along the stack' : 'xyz'[main];
  }

  /** `z = -12.40, -11.40 mm and 3 more` */
  list(places: readonly number[]): string {
    const shown = places.slice(0, MOST_LISTED).map((p) => fixed(p, 2));
    const more = places.length - shown.length;
    const name = this.axis.length === 1 ? `${this.axis} = ` : '';
    const how = this.axis.length === 1 ? '' : ` ${this.axis}`;
    return `${name}${shown.join(', ')} mm${how}${more > 0 ? ` and ${more} more` : ''}`;
  }
}

type Height = (s: SliceHeader) => number;

/** Slices that do not belong to one stack, with sizes, pixels or directions other than most. */
function mixedSlices(sorted: readonly SliceHeader[], words: PlaceWords, height: Height): string[] {
  const problems: string[] = [];
  const check = (
    keyOf: (s: SliceHeader) => string,
    textOf: (s: SliceHeader) => string,
    what: string,
    todo: string,
  ): void => {
    const groups = new Map<string, SliceHeader[]>();
    for (const s of sorted) addTo(groups, keyOf(s), s);
    if (groups.size < 2) return;
    const bySize = [...groups.values()].sort((a, b) => b.length - a.length);
    const [most, ...others] = bySize;
    const odd = others.flat();
    problems.push(
      `${what}: ${most.length} slices ${textOf(most[0])}, ${odd.length} others (${words.list(odd.map(height))}) ${textOf(odd[0])}${others.length > 1 ? ' and more' : ''}. ${todo}.`,
    );
  };
  const near = (x: number): string => fixed(Math.round(x * 500) / 500, 3);
  check(
    (s) => [...s.along, ...s.down].map(near).join(' '),
    (s) => `with rows along (${coordinates(s.along, 2)}) and columns along (${coordinates(s.down, 2)})`,
    'The series holds slices of two orientations',
    'Give a folder of one orientation, best the thin transverse slices',
  );
  check(
    (s) => `${s.columns} ${s.rows}`,
    (s) => `of ${s.columns} x ${s.rows} pixels`,
    'The series holds slices of different sizes',
    'Give one reconstruction',
  );
  check(
    (s) => `${fixed(s.rowSpacingMm, 4)} ${fixed(s.columnSpacingMm, 4)}`,
    (s) => `with pixels of ${fixed(s.columnSpacingMm, 3)} x ${fixed(s.rowSpacingMm, 3)} mm`,
    'The series holds slices of different pixel spacing',
    'Give one reconstruction',
  );
  return problems;
}

function doubledSlices(
  sorted: readonly SliceHeader[],
  words: PlaceWords,
  height: Height,
  rules: Pick<Rules, 'byId'>,
): string[] {
  const tolerance = numberOf(rules, 'scan-place-tolerance');
  const doubled: number[] = [];
  for (let k = 1; k < sorted.length; k++) {
    const place = height(sorted[k]);
    if (place - height(sorted[k - 1]) > tolerance) continue;
    if (doubled.length === 0 || place - doubled[doubled.length - 1] > tolerance) doubled.push(place);
  }
  if (doubled.length === 0) return [];
  return [
    `${doubled.length === 1 ? 'One place contains' : `${doubled.length} places contain`} more than one slice: ${words.list(doubled)}. Two phases or copies are in one series: give a folder that contains each slice once.`,
  ];
}

interface Steps {
  medianMm: number;
  gaps: StackFacts['gaps'];
  isGap: Uint8Array;
  findings: Finding[];
}

function stepsOf(heights: Float64Array, words: PlaceWords, rules: Pick<Rules, 'byId'>): Steps {
  const steps = Array.from({ length: heights.length - 1 }, (_, k) => heights[k + 1] - heights[k]);
  const medianMm = [...steps].sort((a, b) => a - b)[(steps.length - 1) >> 1];
  const silent = Math.max(
    numberOf(rules, 'scan-place-tolerance'),
    (numberOf(rules, 'scan-step-even') / 100) * medianMm,
  );
  const gapFrom = numberOf(rules, 'scan-step-gap') * medianMm;
  const faultFrom = (numberOf(rules, 'scan-step-uneven') / 100) * medianMm;
  const isGap = new Uint8Array(heights.length);
  const gaps: StackFacts['gaps'] = [];
  const uneven: number[] = [];
  const wrong: number[] = [];
  steps.forEach((step, k) => {
    const off = Math.abs(step - medianMm);
    if (step >= gapFrom) {
      isGap[k] = 1;
      gaps.push({ afterMm: heights[k], stepMm: step });
    } else if (off > Math.max(faultFrom, silent)) wrong.push(heights[k]);
    else if (off > silent) uneven.push(heights[k]);
  });
  const findings: Finding[] = [];
  if (gaps.length > 0) {
    const lost = gaps.reduce((sum, { stepMm }) => sum + Math.max(1, Math.round(stepMm / medianMm) - 1), 0);
    const widest = Math.max(...gaps.map(({ stepMm }) => stepMm));
    findings.push(
      finding(
        'stop',
        'scan-slices-missing',
        WHERE,
        `Slices are missing, about ${lost}: after ${words.list(gaps.map(({ afterMm }) => afterMm))} the next is up to ${fixed(widest, 2)} mm away, where ${fixed(medianMm, 2)} mm is usual. Nothing can be read there. Send the whole series again.`,
      ),
    );
  }
  if (wrong.length > 0)
    findings.push(
      finding(
        'stop',
        'scan-slices-uneven',
        WHERE,
        `The slices are unevenly spaced: after ${words.list(wrong)} the step is more than ${fixed(numberOf(rules, 'scan-step-uneven'), 0)} % off the usual ${fixed(medianMm, 2)} mm. Each keeps its own position; a segmentation that assumed even slices is distorted. Reconstruct with even steps.`,
      ),
    );
  if (uneven.length > 0)
    findings.push(
      finding(
        'caution',
        'scan-slices-uneven',
        WHERE,
        `Steps between slices differ slightly from the usual ${fixed(medianMm, 3)} mm, after ${words.list(uneven)}. Each slice keeps its own position.`,
      ),
    );
  return { medianMm, gaps, isGap, findings };
}

/** Whether the first pixels of the slices are on a straight line, and its tilt from the normal. */
function lineOf(
  sorted: readonly SliceHeader[],
  heights: Float64Array,
  normal: Vec3,
  words: PlaceWords,
  rules: Pick<Rules, 'byId'>,
): { tiltDeg: number; findings: Finding[] } {
  const n = sorted.length;
  const aside = sorted.map(({ positionMm }, k) => subtract(positionMm, scale(normal, heights[k])));
  const meanHeight = heights.reduce((a, b) => a + b, 0) / n;
  const middle = scale(aside.reduce(add), 1 / n);
  let slope: Vec3 = [0, 0, 0];
  let spread = 0;
  aside.forEach((p, k) => {
    const h = heights[k] - meanHeight;
    slope = add(slope, scale(subtract(p, middle), h));
    spread += h * h;
  });
  slope = scale(slope, 1 / spread);
  const tiltDeg = (Math.atan(length(slope)) * 180) / Math.PI;
  const reach = numberOf(rules, 'scan-drift') * Math.min(sorted[0].rowSpacingMm, sorted[0].columnSpacingMm);
  const off = aside.flatMap((p, k) => {
    const expected = add(middle, scale(slope, heights[k] - meanHeight));
    return length(subtract(p, expected)) > reach ? [heights[k]] : [];
  });
  const findings: Finding[] = [];
  if (off.length > 0)
    findings.push(
      finding(
        'stop',
        'scan-slices-shifted',
        WHERE,
        `Slices are off the axis of the stack: ${words.list(off)}. Each keeps its own position; a segmentation that assumed a straight stack is distorted. Send the series again from the scanner.`,
      ),
    );
  else if (tiltDeg >= numberOf(rules, 'scan-tilt'))
    findings.push(
      finding(
        'caution',
        'scan-tilted',
        WHERE,
        `The stack is tilted by ${fixed(tiltDeg, 1)} degrees from the normal of its slices (gantry tilt): from z = ${fixed(sorted[0].positionMm[2], 1)} to ${fixed(sorted[n - 1].positionMm[2], 1)} mm each slice is shifted. The tilt is taken into account; a segmentation that ignored it is sheared. Have it reconstructed without tilt.`,
      ),
    );
  return { tiltDeg: tiltDeg < 1e-6 ? 0 : tiltDeg, findings };
}

function thicknessOf(
  sorted: readonly SliceHeader[],
  words: PlaceWords,
): { mm?: number | number[]; findings: Finding[] } {
  const all = sorted.map(({ thicknessMm }) => thicknessMm);
  const known = [...new Set(all.flatMap((t) => t ?? []))].sort((a, b) => a - b);
  if (known.length === 0) return { findings: [] };
  if (known.length === 1) return { mm: known[0], findings: [] };
  const height = (s: SliceHeader): number => dot(s.positionMm, normalOf(sorted[0]));
  const changes = sorted.flatMap((s, k) => (k > 0 && s.thicknessMm !== all[k - 1] ? [height(s)] : []));
  return {
    mm: known,
    findings: [
      finding(
        'caution',
        'scan-thickness-varies',
        WHERE,
        `The slices are of different thickness, ${known
          .slice(0, MOST_LISTED)
          .map((t) => fixed(t, 2))
          .join(
            ', ',
          )} mm; it changes at ${words.list(changes)}. The thickest counts. Give one reconstruction.`,
      ),
    ],
  };
}

/** The orientation of the slices in the patient, by their normal. */
export function planeOf(normal: Vec3): 'transverse' | 'coronal' | 'sagittal' | 'oblique' {
  const main = normal.findIndex((x) => Math.abs(x) > 0.999);
  return main < 0 ? 'oblique' : (['sagittal', 'coronal', 'transverse'] as const)[main];
}
