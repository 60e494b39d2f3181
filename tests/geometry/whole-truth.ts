import { expect } from 'vitest';
import type { Finding } from '../../src/foundation/finding.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { LesionMeasure, VesselMeasure } from '../../src/geometry/measure.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { mean } from '../../src/geometry/statistics.js';
import { type LesionPlan, vesselsOf, type WholeMesh, wholeMesh } from '../../src/phantoms/lesion.js';
import { moveMesh, movePoint, type RigidMotion } from '../../src/phantoms/rigid.js';
import { type LesionTruth, truthOfWhole } from '../../src/phantoms/truth.js';
import { isSettled } from './conditioning.js';
import { DEFINITIONS, IS_LONG, NO_SCAN, type Worst } from './make.js';

/** Tolerances for a whole surface; mm, or fractions of the value. */
const TARGET = {
  landingCalibreMm: 0.1,
  landingCalibrePart: 0.02,
  neckMm: 1,
  landingLengthMm: 1.5,
  sacVolumePart: 0.02,
  branchMm: 1.5,
  branchLengthMm: 0.7,
} as const;

/** Cells a sixth of the thinnest vessel; coarser, down to four across it, where a large sac would have too many. */
export function cellOf(lesion: LesionPlan): number {
  const thinnest = Math.min(...[...vesselsOf(lesion).values()].map(({ calibreAt }) => calibreAt(0)));
  const coarse = Math.min(thinnest / 4, Math.max(...lesion.sac.semiAxesMm) / 30);
  return Math.min(0.8, Math.max(thinnest / 6, coarse));
}

export const surfaceOf = (lesion: LesionPlan): WholeMesh => wholeMesh(lesion, cellOf(lesion));

/** Points and bodies of the truth, computed once. */
export const truthOf = (lesion: LesionPlan): LesionTruth => truthOfWhole(lesion, IS_LONG ? 100 : 48);

/** Measures one surface, moved; its position in the file and the ends of its vessels move with it. */
export function measuredWhole(
  whole: WholeMesh,
  motion: RigidMotion,
  { withSac = true, mesh = moveMesh(motion, whole.mesh), capTriangles = [] as number[] } = {},
): { lesion: LesionMeasure; findings: Finding[] } {
  const moved = (point: Vec3): Vec3 => movePoint(motion, point);
  const measured = measureWhole(
    {
      mesh,
      capTriangles,
      ends: whole.ends.map(({ at, ...end }) => ({ ...end, point: moved(at), where: end.name })),
      ...(withSac && { sac: { point: moved(whole.sac), where: 'sac' } }),
      offeredEnds: [],
    },
    DEFINITIONS,
    NO_SCAN,
  );
  // none of these lesions has a neighbour that is fused with a vessel
  expect.soft(measured.findings.filter(({ id }) => id === 'neighbour-fused')).toEqual([]);
  return measured;
}

/** Checks one lesion against its truth; returns how many landing zones were checked and how many the definition leaves open. */
export function expectTruth(
  lesion: LesionPlan,
  truth: LesionTruth,
  found: LesionMeasure,
  worst: Worst,
): { checked: number; unsettled: number } {
  const count = { checked: 0, unsettled: 0 };
  expect.soft(found.vessels.map((v) => v.name).sort()).toEqual(lesion.vessels.map((v) => v.name).sort());
  for (const vessel of found.vessels) {
    const exact = truth.vessels[vessel.name];
    const where = `${lesion.name} ${vessel.name}`;
    if (exact.role !== 'branch') {
      worst.add('neck', vessel.neck!.atMm - exact.neckAtMm!, where);
      expect
        .soft(Math.abs(vessel.neck!.atMm - exact.neckAtMm!), `neck of ${where}`)
        .toBeLessThan(TARGET.neckMm);
    } else {
      const error = vessel.lengthMm - exact.parentWallAtMm!;
      worst.add('branch length', error, where);
      expect.soft(Math.abs(error), `length of ${where}`).toBeLessThan(TARGET.branchLengthMm);
    }
    expect.soft(vessel.branches.map((b) => b.name)).toEqual(exact.branches.map((b) => b.name));
    vessel.branches.forEach((opening, i) => {
      for (const [what, error] of [
        ['branch place', opening.atMm - exact.branches[i].atMm],
        ['branch edge', opening.toMm - exact.branches[i].sacEdgeMm],
      ] as const) {
        worst.add(what, error, where);
        expect.soft(Math.abs(error), `${what} ${where}`).toBeLessThan(TARGET.branchMm);
      }
    });
    if (exact.role !== 'feeder') continue;
    if (vessel.landing) holdStretch(vessel, exact, worst, where);
    const within = Math.max(
      TARGET.landingCalibreMm,
      TARGET.landingCalibrePart * (exact.landing?.calibreMm ?? 0),
    );
    if (!isSettled(exact, exact.branches.at(-1)?.sacEdgeMm, TARGET.landingLengthMm, within)) {
      count.unsettled++;
      continue;
    }
    expect.soft(vessel.landing === undefined, `landing of ${where}`).toBe(exact.landing === undefined);
    if (!vessel.landing || !exact.landing) continue;
    count.checked++;
    const calibre = vessel.landing.calibreMm - exact.landing.calibreMm;
    const length = vessel.landing.lengthMm - exact.landing.lengthMm;
    worst.add('landing calibre', calibre, where);
    worst.add('landing length', length, where);
    expect.soft(Math.abs(calibre), `landing calibre of ${where}`).toBeLessThan(within);
    expect.soft(Math.abs(length), `landing length of ${where}`).toBeLessThan(TARGET.landingLengthMm);
  }
  const volume = found.sac!.volumeMl / truth.sacVolumeMl - 1;
  worst.add('sac volume, %', 100 * volume, lesion.name);
  expect.soft(Math.abs(volume), `sac of ${lesion.name}`).toBeLessThan(TARGET.sacVolumePart);
  return count;
}

/** Left out at either end of a zone, mm: a flare may gain 10 % within the error of a neck's position … */
const FLARE_MM = 0.3;
/** … and the crease of a branch is rounded past its edge. */
const CREASE_MM = 1;

/**
 * Checks any landing zone, well defined or not, against the truth over the same stretch: the true mean calibre is the
 * measured one, and the true calibre keeps to its limit.
 */
function holdStretch(
  { landing, neck, profile }: VesselMeasure,
  { calibreAt, neckAtMm }: LesionTruth['vessels'][string],
  worst: Worst,
  where: string,
): void {
  const from = landing!.fromMm + (landing!.toBranchMm === undefined ? FLARE_MM : CREASE_MM);
  const to = landing!.toMm - FLARE_MM;
  const inner = profile.filter((s) => s.atMm >= from && s.atMm <= to);
  const calibres = inner.map((s) => calibreAt(s.atMm + neckAtMm! - neck!.atMm));
  const trueMm = mean(calibres);
  const error = mean(inner.map((s) => s.equivalentMm)) - trueMm;
  const within = Math.max(TARGET.landingCalibreMm, TARGET.landingCalibrePart * trueMm);
  worst.add('calibre of the stretch', error, where);
  expect.soft(Math.abs(error), `calibre of the stretch of ${where}`).toBeLessThan(within);
  const beyond = (Math.max(...calibres) - Math.min(...calibres)) / trueMm - DEFINITIONS.landingVariation;
  worst.add('true variation beyond the limit, %', 100 * Math.max(0, beyond), where);
  expect.soft(beyond, `true variation of ${where}`).toBeLessThan(0.02);
}
