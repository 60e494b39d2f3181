import { beforeAll, describe, expect, it, vi } from 'vitest';
import { scale, type Vec3 } from '../../src/foundation/vector.js';
import { closeEnds } from '../../src/mesh/close-ends.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { scaled } from '../../src/mesh/transform.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { vesselsOf, wholeMesh } from '../../src/phantoms/lesion.js';
import { moveMesh, seededMotion } from '../../src/phantoms/rigid.js';
import type { LesionTruth } from '../../src/phantoms/truth.js';
import { IS_LONG, Worst } from './make.js';
import type { WHOLE_SHAPES } from './whole-shapes.js';
import { cellOf, expectTruth, measuredWhole, truthOf } from './whole-truth.js';

vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 });

/** The shape that is also measured open and far from the origin; all of them with PAVM_LONG=1. */
const FAR_TOO = 'a sac of 6 mm';

/** 10 m from the origin along a slant. */
const FAR: Vec3 = scale([0.6, -0.64, 0.48], 10_000);

/** Tests that the program measures each of these shapes to its exact truth. */
export const measureShapes = (shapes: typeof WHOLE_SHAPES): void =>
  describe.each(shapes.map((shape) => [shape.lesion.name, shape] as const))(
    '%s',
    (name, { lesion, cellMm = cellOf(lesion), doubts = [], isSlow = false }) => {
      const isLeftOut = isSlow && !IS_LONG;
      let truth: LesionTruth;
      beforeAll(() => {
        if (!isLeftOut) truth = truthOf(lesion);
      });

      it.skipIf(isLeftOut)('closed ends, rotated', () => {
        const worst = new Worst();
        const { lesion: found, findings } = measuredWhole(wholeMesh(lesion, cellMm), seededMotion(4, 200));
        expect(findings.map(({ id, where }) => `${id} ${where}`)).toEqual(doubts);
        expectTruth(lesion, truth, found, worst);
        console.log(`${name}, closed; worst: ${worst}`);
      });

      it.skipIf(name !== FAR_TOO && !IS_LONG)(
        'open ends, in metres, 10 m from the origin, as 32-bit numbers of a binary STL',
        async () => {
          const worst = new Worst();
          const whole = wholeMesh(lesion, cellMm, true);
          const motion = { ...seededMotion(11, 0), translationMm: FAR };
          const file = await readMesh(writeStl(scaled(moveMesh(motion, whole.mesh), 1e-3)), 'lesion.stl');
          const loaded = prepareSurface(file, { unitMm: 1000, label: 'whole', shown: 'lesion.stl' });
          const { mesh, capTriangles } = closeEnds(loaded, { label: 'whole', shown: 'lesion.stl' });
          expect(loaded.topology.loops).toHaveLength(vesselsOf(lesion).size);
          const { lesion: found, findings } = measuredWhole(whole, motion, { mesh, capTriangles });
          expect(findings.map(({ id, where }) => `${id} ${where}`)).toEqual(doubts);
          expectTruth(lesion, truth, found, worst);
          console.log(`${name}, open; worst: ${worst}`);
        },
      );
    },
  );
