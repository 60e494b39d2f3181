import { expect, it, vi } from 'vitest';
import { distance } from '../../src/foundation/vector.js';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { partMeshes } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { moveMesh, movePoint, seededMotion } from '../../src/phantoms/rigid.js';
import { truthOfParts } from '../../src/phantoms/truth.js';
import { isSettled } from './conditioning.js';
import { DEFINITIONS, IS_LONG, NO_SCAN, Worst } from './make.js';

vi.setConfig({ testTimeout: 240_000 });

/** Tolerances of a landing zone, mm. */
const TARGET = { landingCalibreMm: 0.05, landingLengthMm: 0.6 } as const;

const SEEDS = IS_LONG ? 100 : 10;

it(`parts of ${SEEDS} random lesions, rotated and translated: calibres, necks, landing zones, branches and sac`, () => {
  const worst = new Worst();
  let landings = 0;
  let unsettled = 0;
  let branches = 0;
  for (let seed = 1; seed <= SEEDS; seed++) {
    const lesion = randomLesion(seed);
    const truth = truthOfParts(lesion);
    const motion = seededMotion(seed, 300);
    const parts = partMeshes(lesion).map(
      (part): PartSurface => ({ ...part, mesh: moveMesh(motion, part.mesh), capTriangles: [], spare: false }),
    );
    const measured = measureParts(parts, DEFINITIONS, NO_SCAN);
    expect(measured.findings, lesion.name).toEqual([]);
    expect(measured.lesion.vessels.map((v) => v.name).sort()).toEqual(
      lesion.vessels.map((v) => v.name).sort(),
    );
    for (const vessel of measured.lesion.vessels) {
      const exact = truth.vessels[vessel.name];
      const where = `${lesion.name} ${vessel.name}`;
      for (const sample of vessel.profile)
        worst.add(
          'calibre',
          sample.equivalentMm - exact.calibreAt(sample.atMm),
          `${where} at ${sample.atMm}`,
        );
      expect(vessel.role).toBe(exact.role);
      if (exact.neckAtMm !== undefined) {
        worst.add('length', vessel.lengthMm - exact.neckAtMm, where);
        const neck = movePoint(motion, exact.neckPointMm!);
        worst.add('neck place', distance(vessel.neck!.pointMm, neck), where);
      } else worst.add('branch length', vessel.lengthMm - exact.parentWallAtMm!, where);
      expect(vessel.branches.map((b) => b.name)).toEqual(exact.branches.map((b) => b.name));
      vessel.branches.forEach((opening, i) => {
        branches++;
        worst.add('branch edge, far', opening.fromMm - exact.branches[i].farEdgeMm, where);
        worst.add('branch edge, sac side', opening.toMm - exact.branches[i].sacEdgeMm, where);
        worst.add('branch place', opening.atMm - exact.branches[i].atMm, where);
      });
      expect(vessel.landing === undefined, where).toBe(exact.landing === undefined);
      if (!vessel.landing || !exact.landing) continue;
      if (
        !isSettled(exact, exact.branches.at(-1)?.sacEdgeMm, TARGET.landingLengthMm, TARGET.landingCalibreMm)
      ) {
        unsettled++;
        continue;
      }
      landings++;
      worst.add('landing calibre', vessel.landing.calibreMm - exact.landing.calibreMm, where);
      worst.add('landing length', vessel.landing.lengthMm - exact.landing.lengthMm, where);
      worst.add('landing to sac', vessel.landing.toSacMm - exact.landing.toSacMm, where);
      worst.add('landing taper, points', vessel.landing.taperPercent - exact.landing.taperPercent, where);
    }
    worst.add('sac volume, %', 100 * (measured.lesion.sac!.volumeMl / truth.sacVolumeMl - 1), lesion.name);
  }
  console.log(
    `parts, ${SEEDS} lesions, ${landings} landing zones (${unsettled} more left open by the definition), ${branches} branches; worst: ${worst}`,
  );
  expect(landings).toBeGreaterThan(SEEDS);
  expect(unsettled).toBeLessThan(landings / 5);
  expect(branches).toBeGreaterThan(SEEDS / 2);
  expect(worst.of('calibre')).toBeLessThan(0.05);
  expect(worst.of('length')).toBeLessThan(0.1);
  expect(worst.of('neck place')).toBeLessThan(0.1);
  expect(worst.of('branch length')).toBeLessThan(0.2);
  expect(worst.of('branch edge, far')).toBeLessThan(0.1);
  expect(worst.of('branch edge, sac side')).toBeLessThan(0.1);
  expect(worst.of('landing calibre')).toBeLessThan(TARGET.landingCalibreMm);
  expect(worst.of('landing length')).toBeLessThan(TARGET.landingLengthMm);
  // the sac's triangles are chords of a body of 20·16² of them
  expect(worst.of('sac volume, %')).toBeLessThan(1);
});
