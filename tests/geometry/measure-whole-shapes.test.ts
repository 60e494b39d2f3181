import { describe, expect, it } from 'vitest';
import { dot } from '../../src/foundation/vector.js';
import { measureBody } from '../../src/geometry/sac-measure.js';
import { type LesionPlan, vesselsOf } from '../../src/phantoms/lesion.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { axisGapMm } from '../../src/phantoms/truth.js';
import { measureShapes } from './shape-trials.js';
import { WHOLE_SHAPES } from './whole-shapes.js';

// The shapes with many triangles: measure-more-shapes.test.ts.
measureShapes(WHOLE_SHAPES.filter(({ isFine }) => !isFine));

const shape = (name: string): LesionPlan => WHOLE_SHAPES.find((s) => s.lesion.name === name)!.lesion;

describe('the shapes are what their names say', () => {
  it('two feeders 0.6 mm apart', () => {
    const vessels = vesselsOf(shape('two feeders 0.6 mm apart'));
    const [a, b] = ['A1', 'A2'].map((name) => vessels.get(name)!);
    expect(axisGapMm(a, b, a.axis.lengthMm, b.axis.lengthMm) - 4.5).toBeCloseTo(0.6, 3);
  });

  it('a full turn, and a bend of less than one calibre that leaves the lumen open', () => {
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
