import { beforeAll, describe, expect, it, vi } from 'vitest';
import { dot, scale, type Vec3 } from '../../src/foundation/vector.js';
import { measureBody } from '../../src/geometry/sac-measure.js';
import { closeEnds } from '../../src/mesh/close-ends.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { scaled } from '../../src/mesh/transform.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { type LesionPlan, vesselsOf, wholeMesh } from '../../src/phantoms/lesion.js';
import { moveMesh, seededMotion } from '../../src/phantoms/rigid.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { axisGapMm, type LesionTruth } from '../../src/phantoms/truth.js';
import { IS_LONG, Worst } from './make.js';
import { WHOLE_SHAPES } from './whole-shapes.js';
import { cellOf, hold, measuredWhole, truthOf } from './whole-truth.js';

vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 });

/** The shape that is also measured open and far out; all of them with PAVM_LONG=1. */
const FAR_TOO = new Set(['two feeders 0.6 mm apart']);

/** 10 m from the origin along a slant. */
const FAR: Vec3 = scale([0.6, -0.64, 0.48], 10_000);

describe.each(WHOLE_SHAPES.map((shape) => [shape.lesion.name, shape] as const))(
  '%s',
  (name, { lesion, cellMm = cellOf(lesion), doubts = [], isFine = false, isSlow = false }) => {
    const isLeftOut = isSlow && !IS_LONG;
    let truth: LesionTruth;
    beforeAll(() => {
      if (!isLeftOut) truth = truthOf(lesion);
    });

    it.skipIf(isLeftOut)('closed ends, turned', () => {
      const worst = new Worst();
      const { lesion: found, findings } = measuredWhole(wholeMesh(lesion, cellMm), seededMotion(4, 200));
      expect(findings.map(({ id, where }) => `${id} ${where}`)).toEqual(doubts);
      hold(lesion, truth, found, worst);
      console.log(`${name}, closed; worst: ${worst}`);
    });

    it.skipIf((isFine || !FAR_TOO.has(name)) && !IS_LONG)(
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
        hold(lesion, truth, found, worst);
        console.log(`${name}, open; worst: ${worst}`);
      },
    );
  },
);

const shape = (name: string): LesionPlan => WHOLE_SHAPES.find((s) => s.lesion.name === name)!.lesion;

describe('the shapes are what they are called', () => {
  it('two feeders 0.6 mm apart', () => {
    const vessels = vesselsOf(shape('two feeders 0.6 mm apart'));
    const [a, b] = ['A1', 'A2'].map((name) => vessels.get(name)!);
    expect(axisGapMm(a, b, a.axis.lengthMm, b.axis.lengthMm) - 4.5).toBeCloseTo(0.6, 3);
  });

  it('a full turn, and a bend about less than the calibre that leaves the lumen open', () => {
    const vessels = vesselsOf(shape('a loop and a sharp bend'));
    const turned = (name: string): { total: number; tightestMm: number } => {
      const { axis } = vessels.get(name)!;
      let [total, tightestMm] = [0, Number.POSITIVE_INFINITY];
      for (let s = 0; s + 0.1 <= axis.lengthMm; s += 0.1) {
        const angle = Math.acos(Math.min(1, dot(axis.tangentAt(s), axis.tangentAt(s + 0.1))));
        total += angle;
        tightestMm = Math.min(tightestMm, 0.1 / angle);
      }
      return { total, tightestMm };
    };
    expect(turned('A1').total).toBeGreaterThan(2 * Math.PI);
    expect(turned('V1').tightestMm).toBeLessThan(5);
    expect(turned('V1').tightestMm).toBeGreaterThan(2.6);
  });

  it('sacs of 6 and 90 mm', () => {
    for (const [name, longestMm] of [
      ['a sac of 6 mm', 6],
      ['a sac of 90 mm', 90],
    ] as const) {
      const mesh = sacMesh(shape(name).sac, 12);
      expect(Math.abs(measureBody(mesh.positions, mesh.triangles).longestMm / longestMm - 1)).toBeLessThan(
        0.05,
      );
    }
  });
});
