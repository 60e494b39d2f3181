import { describe, expect, it, vi } from 'vitest';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import { measureParts } from '../../src/geometry/measure-parts.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import {
  type LesionPlan,
  partMeshes,
  vesselsOf,
  type WholeMesh,
  wholeMesh,
} from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { moveMesh, movePoint, type RigidMotion, seededMotion } from '../../src/phantoms/rigid.js';
import { truthOfWhole } from '../../src/phantoms/truth.js';
import { isSettled } from './conditioning.js';
import { DEFINITIONS, IS_LONG, NO_SCAN, Worst } from './make.js';

vi.setConfig({ testTimeout: 900_000 });

/** What a whole surface is held to; mm, or parts of the value. */
const TARGET = {
  landingCalibreMm: 0.1,
  landingCalibrePart: 0.02,
  neckMm: 1,
  landingLengthMm: 1.5,
  sacVolumePart: 0.02,
  branchMm: 1.5,
} as const;

/** Cells of a sixth of the thinnest vessel; coarser, down to four across it, where a large sac would have too many. */
function surfaceOf(lesion: LesionPlan): WholeMesh {
  const thinnest = Math.min(...[...vesselsOf(lesion).values()].map(({ calibreAt }) => calibreAt(0)));
  const coarse = Math.min(thinnest / 4, Math.max(...lesion.sac.semiAxesMm) / 30);
  return wholeMesh(lesion, Math.min(0.8, Math.max(thinnest / 6, coarse)));
}

function measured(whole: WholeMesh, motion: RigidMotion, withSac: boolean): LesionMeasure {
  const { lesion, findings } = measureWhole(
    {
      mesh: moveMesh(motion, whole.mesh),
      capTriangles: [],
      ends: whole.ends.map(({ name, role, of, at }) => ({
        name,
        role,
        of,
        point: movePoint(motion, at),
        where: name,
      })),
      ...(withSac && { sac: { point: movePoint(motion, whole.sac), where: 'sac' } }),
      offeredEnds: [],
    },
    DEFINITIONS,
    NO_SCAN,
  );
  expect.soft(findings).toEqual([]);
  return lesion;
}

/** Holds one lesion to its truth; returns how many landing zones were held and how many the definition leaves open. */
function hold(lesion: LesionPlan, found: LesionMeasure, worst: Worst): { held: number; unsettled: number } {
  const truth = truthOfWhole(lesion, IS_LONG ? 100 : 64);
  const count = { held: 0, unsettled: 0 };
  expect.soft(found.vessels.map((v) => v.name).sort()).toEqual(lesion.vessels.map((v) => v.name).sort());
  for (const vessel of found.vessels) {
    const exact = truth.vessels[vessel.name];
    const where = `${lesion.name} ${vessel.name}`;
    if (exact.role !== 'branch') {
      worst.add('neck', vessel.neck!.atMm - exact.neckAtMm!, where);
      expect
        .soft(Math.abs(vessel.neck!.atMm - exact.neckAtMm!), `neck of ${where}`)
        .toBeLessThan(TARGET.neckMm);
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
    count.held++;
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

function sweep(lesions: readonly { lesion: LesionPlan; whole: () => WholeMesh }[]): void {
  const worst = new Worst();
  let [held, unsettled] = [0, 0];
  lesions.forEach(({ lesion, whole }, i) => {
    const count = hold(lesion, measured(whole(), seededMotion(i + 1, 200), true), worst);
    held += count.held;
    unsettled += count.unsettled;
  });
  console.log(
    `whole, ${lesions.length} lesions, ${held} landing zones held, ${unsettled} left open by the definition; worst: ${worst}`,
  );
  expect.soft(held).toBeGreaterThanOrEqual(lesions.length);
}

/** A small sac with vessels of 2 mm and more, so that a surface takes a second or two. Each surface is made once. */
const SMALL = [14, 20, 5].map((seed) => {
  const lesion = randomLesion(seed, { feeders: 1 + (seed % 2), drains: 1, sacRadiusMm: 8 });
  return { lesion, whole: surfaceOf(lesion) };
});

describe('one surface of the whole blood pool', () => {
  it('small random lesions against their exact truth', () =>
    sweep(SMALL.map(({ lesion, whole }) => ({ lesion, whole: () => whole }))));

  it('the widest place stands for the sac where no point is given', () => {
    const { whole } = SMALL[1];
    const still: RigidMotion = seededMotion(3, 50);
    const [told, found] = [true, false].map((withSac) => measured(whole, still, withSac));
    expect.soft(found.sac!.volumeMl / told.sac!.volumeMl).toBeCloseTo(1, 2);
    found.vessels.forEach((vessel, i) => {
      expect.soft(vessel.name).toBe(told.vessels[i].name);
      expect.soft(Math.abs(vessel.lengthMm - told.vessels[i].lengthMm)).toBeLessThan(0.3);
      expect.soft(vessel.calibreMm.mean / told.vessels[i].calibreMm.mean).toBeCloseTo(1, 2);
    });
  });

  it('parts and whole of one lesion agree within 2 % in calibre', () => {
    for (const { lesion, whole: surface } of SMALL) {
      const parts = measureParts(
        partMeshes(lesion).map((p) => ({ ...p, capTriangles: [], spare: false })),
        DEFINITIONS,
        NO_SCAN,
      ).lesion;
      const still = seededMotion(9, 0);
      const whole = measured(surface, still, true);
      for (const vessel of whole.vessels) {
        const other = parts.vessels.find((v) => v.name === vessel.name)!;
        // beside branches and in the flare before the neck the two surfaces differ by their nature
        const isBare = (at: number): boolean =>
          at > 1 &&
          at < other.lengthMm - 1.5 * other.calibreMm.mean &&
          vessel.branches.every((b) => at < b.fromMm - 1.5 || at > b.toMm + 1.5) &&
          (vessel.role !== 'branch' || at < vessel.lengthMm - 3);
        let compared = 0;
        for (const sample of vessel.profile.filter((s) => isBare(s.atMm))) {
          const twin = other.profile.reduce((a, b) =>
            Math.abs(b.atMm - sample.atMm) < Math.abs(a.atMm - sample.atMm) ? b : a,
          );
          compared++;
          expect
            .soft(
              Math.abs(sample.equivalentMm / twin.equivalentMm - 1),
              `${lesion.name} ${vessel.name} at ${sample.atMm}`,
            )
            .toBeLessThan(0.02);
        }
        expect.soft(compared).toBeGreaterThan(5);
      }
    }
  });

  it.runIf(IS_LONG)('20 random lesions', () =>
    sweep(
      Array.from({ length: 20 }, (_, i) => randomLesion(i + 1)).map((lesion) => ({
        lesion,
        whole: () => surfaceOf(lesion),
      })),
    ),
  );
});
