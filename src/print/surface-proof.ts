import { coordinates, fixed } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import type { SignedPoints } from '../geometry/register/distances-both-ways.js';
import {
  type Registration,
  type RegistrationRules,
  registerSurfaces,
} from '../geometry/register/register-surfaces.js';
import { matchSize, sizeRatio } from '../geometry/register/size-match.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type Region, type RegionInput, regionFinder } from './print-regions.js';
import { student99 } from '../foundation/student-t.js';
import { scaleCure, type Verdict } from './proof.js';
import { knownSlips, slipNear } from './slips.js';

/** The model that a scan of a print is compared with. */
export interface SurfaceProofInput extends RegionInput {
  printScale: number;
  registration: RegistrationRules;
  limits: SurfaceLimits;
}

/** Limits of a scan of the print; from `rules/register.yaml`. */
export interface SurfaceLimits {
  /** Largest share of a structure's surface that may be out of tolerance. */
  outShare: number;
  /** Smallest share of the model, without its tag, that the scan must show. */
  covered: number;
  /** The same for each structure. */
  partCovered: number;
  /** Standard deviation of one point of the scan, mm. */
  noiseMm: number;
  /** Smallest bias of a size that is reported, mm. */
  biasLeastMm: number;
}

export function surfaceLimits(rules: Pick<Rules, 'byId'>): SurfaceLimits {
  return {
    outShare: numberOf(rules, 'proof-surface-share'),
    covered: numberOf(rules, 'proof-surface-covered'),
    partCovered: numberOf(rules, 'proof-surface-part-covered'),
    noiseMm: numberOf(rules, 'proof-surface-noise'),
    biasLeastMm: numberOf(rules, 'proof-surface-bias-least'),
  };
}

/** One structure of the print. */
export interface RegionRow {
  name: string;
  toleranceMm: number;
  /** Share of its surface that the scan shows. */
  covered: number;
  /** Points of both surfaces within reach of the other. */
  points: number;
  /** Distances of those points; absent if there are none. Positive: the scan is outside. */
  biasMm?: number;
  /** Excess of sizes: twice the bias of the wall, with its 99 % interval. */
  sizeOff?: { mm: number; interval99Mm: [number, number] };
  p95Mm?: number;
  /** Share of them out of tolerance. */
  outShare?: number;
  /** The farthest one. */
  worst?: { signedMm: number; atMm: Vec3 };
  isWithin: boolean;
}

/** The agreement of a scan of the print with the model. */
export interface SurfaceProof {
  verdict: Verdict;
  because: string[];
  /** Absent if the scan could not be laid over the model. */
  registration?: Registration;
  distancesAbsentBecause?: string;
  regions: RegionRow[];
  /** Share of the model, without its tag, that the scan shows. */
  covered?: number;
  /** Share of the scan that is not on the model. */
  extra?: number;
  /** Size of the scan over that of the model, if determined. */
  scale?: { factor: number; interval?: [number, number]; isError: boolean; standsOut: boolean };
  /** A mix-up of units or scale, or a mirror image. */
  slip?: string;
}

/**
 * Lays a scan of the print (mm) over the model and judges the distances. A wrong size, unit or side is reported, never corrected.
 *
 * Proved    no structure has more than the rule's share of its surface out of tolerance, no vessel's size, which is off by twice its wall's
 *           bias, can exceed its tolerance or is significantly biased, no scale error is significant, and enough of the model is shown
 * Interval  of a wall's bias from eight slabs with equal numbers of points along the structure, since errors of neighbouring points are
 *           correlated
 * Tolerance that of caliper readings (`tolerance.ts`), for a vessel by its mean calibre
 */
export function proveSurface(input: SurfaceProofInput, scan: TriangleMesh): SurfaceProof {
  const model = input.parts.find((p) => p.role === 'model')?.mesh;
  if (!model) return notProved('There is no model to lay the scan over.');
  const ratio = sizeRatio(model, scan);
  if (ratio === undefined) return notProved('The scan has no surface.');
  const { otherSize } = input.registration;
  if (ratio > otherSize || ratio < 1 / otherSize) {
    const slip = sizeSlip(input, model, scan, ratio);
    if (slip) return slip;
  }
  const registration = registerSurfaces(model, scan, input.registration);
  if (!registration) return notProved('The scan has no surface.');
  if (registration.verdict === 'mirrored') {
    const slip = `the scan is the mirror image of the model: ${registration.because}.`;
    return {
      ...notProved(`Mirrored: ${slip} Left and right are exchanged; do not use the print.`),
      distancesAbsentBecause: 'the scan is a mirror image of the model, and nothing is ever reflected',
      slip,
    };
  }
  if (registration.verdict === 'not-the-same')
    return (
      sizeSlip(input, model, scan, ratio) ??
      notProved(
        `Not this model: ${registration.because}. The scan is of another object, or the print is badly deformed.`,
      )
    );
  return judged(input, registration);
}

const notProved = (why: string): SurfaceProof => ({
  verdict: 'not-proved',
  because: [why],
  distancesAbsentBecause: why,
  regions: [],
});

/** The mix-up of units or scale, or the size, at which the scan would fit. */
function sizeSlip(
  { printScale, registration: limits }: SurfaceProofInput,
  model: TriangleMesh,
  scan: TriangleMesh,
  ratio: number,
): SurfaceProof | undefined {
  const found = matchSize(model, scan, sizesToTry(ratio, printScale, limits.otherSize), limits);
  if (!found) return undefined;
  const slip = slipNear(found.fitted, printScale)?.text;
  const percent = `${fixed(100 * found.fitted, 1)} %`;
  const why =
    slip === undefined
      ? `Scale: the scan fits the model at ${percent} of its size, with ${fixed(found.registration.misfitMm, 2)} mm left.`
      : `Unit or scale: ${slip} Check --unit and the export of the scan; the scan fits at ${percent} of the model's size.`;
  return {
    ...notProved(why),
    distancesAbsentBecause: `the scan has another size (${percent}); nothing was rescaled`,
    scale: { factor: found.fitted, isError: true, standsOut: true },
    ...(slip !== undefined && { slip }),
  };
}

/** Sizes, scan over model, to try for a scan of this ratio: the known mix-ups within the factor of it, then the ratio itself. */
export function sizesToTry(ratio: number, printScale: number, otherSize: number): number[] {
  const factors = knownSlips(printScale).map(({ factor }) => factor);
  return [...factors.filter((factor) => Math.abs(Math.log(ratio / factor)) < Math.log(otherSize)), ratio];
}

/** Judges the distances of a scan that was laid over the model. */
export function judged(input: SurfaceProofInput, registration: Registration): SurfaceProof {
  const { limits } = input;
  const regionOf = regionFinder(input);
  const order = [...input.lesion.vessels.map(({ name }) => name), 'sac'];
  const rank = ({ name }: RegionRow): number => (order.includes(name) ? order.indexOf(name) : order.length);
  const rows = regionRows(registration, regionOf, limits).sort(
    (a, b) =>
      Number(a.kind === 'extra') - Number(b.kind === 'extra') ||
      rank(a) - rank(b) ||
      (a.name < b.name ? -1 : 1),
  );
  const body = rows.filter(({ kind }) => kind === 'lesion');
  const shown = body.reduce((sum, r) => sum + r.modelPoints, 0);
  const covered = shown > 0 ? body.reduce((sum, r) => sum + r.covered * r.modelPoints, 0) / shown : 0;
  const scale = scaleOf(registration, input.tolerances.rules);
  const { out, open, biases } = faultsOf(registration, { rows, covered, scale }, limits);
  const verdict = out.length + open.length > 0 ? 'not-proved' : biases.length > 0 ? 'biased' : 'proved';
  const places = placesToLookAt(input, rows, covered);
  const fine =
    'The scan lies on the model within tolerance, no vessel shows a bias, and no scale error stands out.';
  return {
    verdict,
    because: [...(verdict === 'proved' ? [fine] : [...out, ...open, ...biases]), ...places],
    registration,
    regions: rows.map(({ kind: _, modelPoints: __, ...row }) => row),
    covered,
    extra: 1 - registration.overlap.moving,
    ...(scale && { scale }),
  };
}

type JudgedRow = RegionRow & Pick<Tally, 'kind' | 'modelPoints'>;

/** The scale of the print relative to the model, and whether it is an error; undefined if none was fitted. */
function scaleOf(
  { scale }: Registration,
  rules: SurfaceProofInput['tolerances']['rules'],
): SurfaceProof['scale'] {
  if (!scale) return undefined;
  const off = Math.abs(scale.factor - 1);
  const standsOut = off >= rules.scaleLeast && (scale.interval[0] > 1 || scale.interval[1] < 1);
  // Compared as printed, so that 1.00 % is not less than 1 %.
  const isError = standsOut && Number(fixed(off, 4)) >= rules.scaleError;
  return { factor: scale.factor, interval: scale.interval, isError, standsOut };
}

/** Faults out of tolerance, open questions, and biases within tolerance. */
function faultsOf(
  registration: Registration,
  { rows, covered, scale }: { rows: readonly JudgedRow[]; covered: number; scale: SurfaceProof['scale'] },
  limits: SurfaceProofInput['limits'],
): { out: string[]; open: string[]; biases: string[] } {
  const out: string[] = [];
  const open: string[] = [];
  const biases: string[] = [];
  if (scale?.standsOut && scale.interval) {
    const off = scale.factor - 1;
    (scale.isError ? out : biases).push(
      `Scale error: the print is ${fixed(100 * Math.abs(off), 2)} % too ${off > 0 ? 'large' : 'small'} (95 % interval ${scale.interval.map((f) => fixed(100 * (f - 1), 2)).join(' to ')} %). ${scaleCure(scale.factor)}`,
    );
  }
  for (const row of rows) {
    if (row.outShare !== undefined && row.outShare > limits.outShare)
      out.push(
        `${row.name}: ${fixed(100 * row.outShare, 0)} % of its surface is out of tolerance (± ${fixed(row.toleranceMm, 2)} mm, and ${fixed(2 * limits.noiseMm, 2)} mm for the scan); ${fixed(100 * limits.outShare, 0)} % may.`,
      );
    const size = row.kind === 'lesion' ? sizeFault(row, limits.biasLeastMm) : undefined;
    if (size) ({ out, open, bias: biases })[size.kind].push(size.text);
    if (row.kind === 'lesion' && row.covered < limits.partCovered)
      open.push(
        `${row.name}: the scan shows only ${fixed(100 * row.covered, 0)} % of it. Is it broken off, or was it not scanned?`,
      );
  }
  if (covered < limits.covered)
    open.push(
      `The scan shows ${fixed(100 * covered, 0)} % of the model's surface; ${fixed(100 * limits.covered, 0)} % are needed to prove the print.`,
    );
  if (registration.verdict === 'ambiguous')
    open.push(`The pose is ambiguous: ${registration.because}. The distances hold for one of the poses.`);
  if (!registration.converged) open.push('The pose did not converge: do not trust the distances.');
  return { out, open, biases };
}

/** Places to look at in addition to the verdict. */
function placesToLookAt(input: SurfaceProofInput, rows: readonly JudgedRow[], covered: number): string[] {
  const places = rows
    .filter(
      ({ kind, isWithin, outShare }) =>
        kind === 'lesion' && isWithin && outShare !== undefined && outShare > 0,
    )
    .map(
      ({ name, worst }) =>
        `Look at ${name}: one place is ${fixed(Math.abs(worst!.signedMm), 2)} mm ${worst!.signedMm > 0 ? 'outside' : 'inside'}, at ${coordinates(worst!.atMm)} mm of the print.`,
    );
  if (input.hollow)
    places.push(
      'The print is hollow: its outside was judged, its lumen was not; a scan from outside does not see it.',
    );
  if (input.parts.some(({ role }) => role === 'half') && covered < input.limits.covered)
    places.push('The model is cut in two: scan its halves put together.');
  return places;
}

/** A fault of one structure's size: `out` of tolerance, possibly so (`open`), or biased. */
function sizeFault(
  { name, sizeOff, toleranceMm }: RegionRow,
  leastMm: number,
): { kind: 'out' | 'open' | 'bias'; text: string } | undefined {
  if (!sizeOff) return undefined;
  const { mm, interval99Mm } = sizeOff;
  const [low, high] = interval99Mm;
  const nearest = low <= 0 && high >= 0 ? 0 : Math.min(Math.abs(low), Math.abs(high));
  const farthest = Math.max(Math.abs(low), Math.abs(high));
  const text = `${name}: its wall is ${fixed(Math.abs(mm) / 2, 2)} mm ${mm > 0 ? 'outside' : 'inside'} on average, so that sizes read about ${fixed(Math.abs(mm), 2)} mm too ${mm > 0 ? 'large' : 'small'} (99 % interval ${fixed(low, 2)} to ${fixed(high, 2)} mm); tolerance ± ${fixed(toleranceMm, 2)} mm.`;
  if (nearest > toleranceMm) return { kind: 'out', text };
  if (farthest > toleranceMm) return { kind: 'open', text };
  return nearest > 0 && Math.abs(mm) >= leastMm ? { kind: 'bias', text } : undefined;
}

const SLABS = 8;

/** Twice the mean of signed distances, and its 99 % interval from slabs along the longest side of their box. */
function sizeOffOf(points: readonly Vec3[], signedMm: readonly number[]): RegionRow['sizeOff'] {
  if (signedMm.length < 4 * SLABS) return undefined;
  const extent = [0, 1, 2].map(
    (k) =>
      points.reduce((m, p) => Math.max(m, p[k]), -Infinity) -
      points.reduce((m, p) => Math.min(m, p[k]), Infinity),
  );
  const axis = extent.indexOf(Math.max(...extent));
  const order = points.map((_, i) => i).sort((a, b) => points[a][axis] - points[b][axis] || a - b);
  const sums = new Float64Array(SLABS);
  const counts = new Float64Array(SLABS);
  order.forEach((i, place) => {
    const slab = Math.floor((SLABS * place) / order.length);
    sums[slab] += signedMm[i];
    counts[slab]++;
  });
  const means = [...sums].map((sum, k) => sum / counts[k]);
  const mean = means.reduce((a, b) => a + b, 0) / SLABS;
  const variance = means.reduce((sum, m) => sum + (m - mean) ** 2, 0) / (SLABS - 1);
  const half = student99(SLABS - 1) * Math.sqrt(variance / SLABS);
  return { mm: 2 * mean, interval99Mm: [2 * (mean - half), 2 * (mean + half)] };
}

interface Tally extends Region {
  modelPoints: number;
  near: number;
  signed: number[];
  at: Vec3[];
  worst: NonNullable<RegionRow['worst']>;
}

const nowhere = (): Tally['worst'] => ({ signedMm: 0, atMm: [0, 0, 0] });

function regionRows(
  { reachMm, fixedPoints, movingPoints }: Registration,
  regionOf: (p: Vec3) => Region,
  limits: SurfaceLimits,
): JudgedRow[] {
  const tallies = new Map<string, Tally>();
  const collect = ({ points, signedMm }: SignedPoints, isModel: boolean): void => {
    for (let i = 0; i < signedMm.length; i++) {
      const isNear = Math.abs(signedMm[i]) <= reachMm;
      if (!isModel && !isNear) continue;
      const atMm: Vec3 = [points[3 * i], points[3 * i + 1], points[3 * i + 2]];
      const region = regionOf(atMm);
      if (region.kind === 'lumen') continue;
      const tally = tallies.get(region.name) ?? {
        ...region,
        modelPoints: 0,
        near: 0,
        signed: [],
        at: [],
        worst: nowhere(),
      };
      tallies.set(region.name, tally);
      if (isModel) tally.modelPoints++;
      if (isModel && isNear) tally.near++;
      if (!isNear) continue;
      tally.signed.push(signedMm[i]);
      tally.at.push(atMm);
      if (Math.abs(signedMm[i]) > Math.abs(tally.worst.signedMm))
        tally.worst = { signedMm: signedMm[i], atMm };
    }
  };
  collect(fixedPoints, true);
  collect(movingPoints, false);
  return [...tallies.values()].map(({ name, toleranceMm, kind, modelPoints, near, signed, at, worst }) => {
    const row: RegionRow = {
      name,
      toleranceMm,
      covered: modelPoints > 0 ? near / modelPoints : 0,
      points: signed.length,
      isWithin: true,
    };
    if (signed.length > 0) {
      const sizes = signed.map(Math.abs).toSorted((a, b) => a - b);
      row.biasMm = signed.reduce((a, b) => a + b, 0) / signed.length;
      row.p95Mm = sizes[Math.ceil(0.95 * sizes.length) - 1];
      row.worst = worst;
      const pastMm = toleranceMm + 2 * limits.noiseMm;
      row.outShare = sizes.filter((d) => d > pastMm).length / sizes.length;
      row.sizeOff = sizeOffOf(at, signed);
      const widest = Math.max(...(row.sizeOff?.interval99Mm ?? []).map(Math.abs), 0);
      row.isWithin = row.outShare <= limits.outShare && widest <= toleranceMm;
    }
    return { ...row, kind, modelPoints };
  });
}
