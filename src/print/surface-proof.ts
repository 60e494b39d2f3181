import { fixed } from '../foundation/number-text.js';
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
import { knownSlips, slipNear } from './proof.js';

/** What a scan of a print is held against. */
export interface SurfaceProofInput extends RegionInput {
  printScale: number;
  registration: RegistrationRules;
  limits: SurfaceLimits;
}

/** Limits of a scan of the print; from `rules/register.yaml`. */
export interface SurfaceLimits {
  /** Largest part of a structure's surface that may lie out of tolerance. */
  outShare: number;
  /** Smallest part of the model, its tag left out, that the scan must show. */
  covered: number;
  /** The same for each structure. */
  partCovered: number;
}

export function surfaceLimits(rules: Pick<Rules, 'byId'>): SurfaceLimits {
  return {
    outShare: numberOf(rules, 'proof-surface-share'),
    covered: numberOf(rules, 'proof-surface-covered'),
    partCovered: numberOf(rules, 'proof-surface-part-covered'),
  };
}

/** One structure of the print. */
export interface RegionRow {
  name: string;
  toleranceMm: number;
  /** Part of its surface that the scan shows. */
  covered: number;
  /** Points of both surfaces that are within reach of the other. */
  points: number;
  /** Of those points; absent where there are none. Positive: the scan lies outside. */
  biasMm?: number;
  p95Mm?: number;
  /** Part of them out of tolerance. */
  outShare?: number;
  /** The farthest of them. */
  worst?: { signedMm: number; atMm: Vec3 };
  isWithin: boolean;
}

/** How a scan of the print agrees with the model. */
export interface SurfaceProof {
  verdict: 'pass' | 'fail' | 'not-proved';
  because: string[];
  /** Absent where the scan could not be laid over the model. */
  registration?: Registration;
  distancesAbsentBecause?: string;
  regions: RegionRow[];
  /** Part of the model, its tag left out, that the scan shows. */
  covered?: number;
  /** Part of the scan that lies on no part of the model. */
  extra?: number;
  /** Size of the scan over that of the model, where it was found out. */
  scale?: { factor: number; interval?: [number, number]; isError: boolean };
  /** A mix-up of units or scale, or a mirror image. */
  slip?: string;
}

/**
 * Lays a scan of the print (mm) over the model and judges the distances. A wrong size, unit or side is named and never taken back.
 *
 * Pass      no structure has more than the rule's share of its surface out of tolerance, no wall lies by more than half of the
 *           tolerance to one side all over (a size is off by twice that), the scale is right, and enough of the model is shown
 * Tolerance that of the caliper readings (`toleranceFor`): by mean calibre of the vessel, shortest axis of the sac
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
      ...failed(`Mirrored: ${slip} Left and right are exchanged; do not use the print.`),
      distancesAbsentBecause: 'the scan is a mirror image of the model, and nothing is ever reflected',
      slip,
    };
  }
  if (registration.verdict === 'not-the-same')
    return (
      sizeSlip(input, model, scan, ratio) ??
      failed(
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

const failed = (why: string): SurfaceProof => ({ ...notProved(why), verdict: 'fail' });

/** The mix-up of units or scale, or the other size, with which the scan would fit. */
function sizeSlip(
  { printScale, registration: limits }: SurfaceProofInput,
  model: TriangleMesh,
  scan: TriangleMesh,
  ratio: number,
): SurfaceProof | undefined {
  const near = ({ factor }: { factor: number }): boolean =>
    Math.abs(Math.log(ratio / factor)) < Math.log(limits.otherSize);
  const factors = knownSlips(printScale)
    .filter(near)
    .map(({ factor }) => factor);
  const found = matchSize(model, scan, [...factors, ratio], limits);
  if (!found) return undefined;
  const slip = slipNear(found.fitted, printScale)?.text;
  const percent = `${fixed(100 * found.fitted, 1)} %`;
  const why =
    slip === undefined
      ? `Scale: the scan fits the model at ${percent} of its size, with ${fixed(found.registration.misfitMm, 2)} mm left.`
      : `Unit or scale: ${slip} Check --unit and the export of the scan; the scan fits at ${percent} of the model's size.`;
  return {
    ...failed(why),
    distancesAbsentBecause: `the scan has another size (${percent}); nothing was rescaled`,
    scale: { factor: found.fitted, isError: true },
    ...(slip !== undefined && { slip }),
  };
}

function judged(input: SurfaceProofInput, registration: Registration): SurfaceProof {
  const { limits, rules } = input;
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
  const out: string[] = [];
  const open: string[] = [];
  const { scale } = registration;
  const off = scale ? scale.factor - 1 : 0;
  const isScaleError =
    scale !== undefined &&
    Math.abs(off) >= rules.scaleError &&
    (scale.interval[0] > 1 || scale.interval[1] < 1);
  if (scale && isScaleError)
    out.push(
      `Scale error: the print is ${fixed(100 * Math.abs(off), 2)} % too ${off > 0 ? 'large' : 'small'} (95 % interval ${scale.interval.map((f) => fixed(100 * (f - 1), 2)).join(' to ')} %). Print again at ${fixed(100 / scale.factor, 2)} % of the size last used.`,
    );
  for (const row of rows) {
    if (row.outShare !== undefined && row.outShare > limits.outShare)
      out.push(
        `${row.name}: ${fixed(100 * row.outShare, 0)} % of its surface lies out of tolerance (± ${fixed(row.toleranceMm, 2)} mm); ${fixed(100 * limits.outShare, 0)} % may.`,
      );
    if (row.biasMm !== undefined && isLopsided(row, row.biasMm))
      out.push(
        `${row.name}: its wall lies ${fixed(Math.abs(row.biasMm), 2)} mm ${row.biasMm > 0 ? 'outside' : 'inside'} on average, so that sizes read about ${fixed(2 * Math.abs(row.biasMm), 2)} mm too ${row.biasMm > 0 ? 'large' : 'small'}; tolerance ± ${fixed(row.toleranceMm, 2)} mm.`,
      );
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
  if (!registration.converged) open.push('The pose did not come to rest: the distances are not trusted.');
  const verdict = out.length > 0 ? 'fail' : open.length > 0 ? 'not-proved' : 'pass';
  const places = rows
    .filter(
      ({ kind, isWithin, outShare }) =>
        kind === 'lesion' && isWithin && outShare !== undefined && outShare > 0,
    )
    .map(
      ({ name, worst }) =>
        `Look at ${name}: a place of it lies ${fixed(Math.abs(worst!.signedMm), 2)} mm ${worst!.signedMm > 0 ? 'outside' : 'inside'}, at ${worst!.atMm.map((c) => fixed(c, 1)).join(', ')} mm of the print.`,
    );
  if (input.hollow)
    places.push(
      'The print is hollow: its outside was judged, its lumen was not; a scan from outside does not see it.',
    );
  if (input.parts.some(({ role }) => role === 'half') && covered < limits.covered)
    places.push('The model is cut in two: scan its halves put together.');
  const fine = 'The scan lies on the model within tolerance, and no scale error stands out.';
  return {
    verdict,
    because: [...(verdict === 'pass' ? [fine] : [...out, ...open]), ...places],
    registration,
    regions: rows.map(({ kind: _, modelPoints: __, ...row }) => row),
    covered,
    extra: 1 - registration.overlap.moving,
    ...(scale && { scale: { factor: scale.factor, interval: scale.interval, isError: isScaleError } }),
  };
}

/** A size is off by twice what its wall is off. */
const isLopsided = (row: RegionRow, biasMm: number): boolean => 2 * Math.abs(biasMm) > row.toleranceMm;

interface Tally extends Region {
  modelPoints: number;
  near: number;
  signed: number[];
  worst: NonNullable<RegionRow['worst']>;
}

const nowhere = (): Tally['worst'] => ({ signedMm: 0, atMm: [0, 0, 0] });

function regionRows(
  { reachMm, fixedPoints, movingPoints }: Registration,
  regionOf: (p: Vec3) => Region,
  limits: SurfaceLimits,
): (RegionRow & Pick<Tally, 'kind' | 'modelPoints'>)[] {
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
        worst: nowhere(),
      };
      tallies.set(region.name, tally);
      if (isModel) tally.modelPoints++;
      if (isModel && isNear) tally.near++;
      if (!isNear) continue;
      tally.signed.push(signedMm[i]);
      if (Math.abs(signedMm[i]) > Math.abs(tally.worst.signedMm))
        tally.worst = { signedMm: signedMm[i], atMm };
    }
  };
  collect(fixedPoints, true);
  collect(movingPoints, false);
  return [...tallies.values()].map(({ name, toleranceMm, kind, modelPoints, near, signed, worst }) => {
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
      row.outShare = sizes.filter((d) => d > toleranceMm).length / sizes.length;
      row.isWithin = row.outShare <= limits.outShare && !isLopsided(row, row.biasMm);
    }
    return { ...row, kind, modelPoints };
  });
}
