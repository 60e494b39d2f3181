import { afterAll, describe, expect, it } from 'vitest';
import { cross, dot } from '../../src/foundation/vector.js';
import { measure } from '../../src/mesh/measures.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { cleanMesh, isClean } from '../../src/print/check-solid.js';
import { flipSlivers, sliversOf } from '../../src/print/flip-slivers.js';
import { canDraw, textStrokes, textUnits } from '../../src/print/stroke-font.js';
import { scaleText, tagAxes, tagLines, tagPlate } from '../../src/print/tag.js';
import { Workshop } from '../../src/print/workshop.js';
import { meshOf } from '../mesh/shapes.js';

const workshop = await Workshop.open();
afterAll(() => workshop.close());

describe('letters', () => {
  const signs = [...'ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.: '];
  it('every character of a case id, a scale and a direction can be drawn, and no two look alike', () => {
    expect(signs.every(canDraw)).toBe(true);
    const drawn = signs.map((s) => JSON.stringify(textStrokes(s)));
    expect(new Set(drawn).size).toBe(signs.length);
  });
  it('stay on their grid, three units apart', () => {
    for (const [x, y] of textStrokes('RSL').flat()) {
      expect(x).toBeLessThanOrEqual(textUnits('RSL'));
      expect(y).toBeLessThanOrEqual(4);
    }
    expect(textUnits('RSL')).toBe(8);
  });
});

describe('tag', () => {
  it.each([
    [1, '1:1'],
    [2, '2:1'],
    [0.5, '1:2'],
    [1 / 3, '1:3'],
    [1.25, 'X 1.25'],
  ])('scale %d reads %s', (scale, text) => {
    expect(scaleText(scale)).toBe(text);
  });

  it('reads from the front: the reader’s right is the patient’s left, up is superior', () => {
    const anterior = { LPS: [0, -1, 0], RAS: [0, 1, 0] } as const;
    for (const frame of ['LPS', 'RAS'] as const) {
      const { right, up } = tagAxes(frame);
      expect(right).toEqual(frame === 'LPS' ? [1, 0, 0] : [-1, 0, 0]);
      expect(dot(cross(right, up), [...anterior[frame]])).toBe(1);
    }
  });

  it('has directions, case, side and scale; without known axes no directions', () => {
    const base = { caseId: 'two-feeder-lesion', scale: 1, side: 'right', notToSize: ['A1', 'B1'] } as const;
    expect(tagLines({ ...base, frame: 'LPS' })).toEqual([
      'R   S   L',
      'TWO-',
      'FEEDER-',
      'LESION',
      'RIGHT 1:1',
      'THICKENED',
      'A1 B1',
      'I',
    ]);
    expect(tagLines({ ...base, frame: 'unknown', notToSize: [] })).toEqual([
      'TWO-',
      'FEEDER-',
      'LESION',
      'RIGHT 1:1',
    ]);
  });

  it('is one clean solid in whole millimetres', () => {
    const { solid, size } = tagPlate(workshop, ['R   S   L', 'HERON-0189', 'I'], 0.5);
    const { check } = cleanMesh(workshop, solid);
    expect(isClean(check)).toBe(true);
    expect(check.bodies).toBe(1);
    expect([size.widthMm, size.heightMm].every(Number.isInteger)).toBe(true);
    const { min, max } = solid.boundingBox();
    expect(max[0] - min[0]).toBeCloseTo(size.widthMm, 4);
    expect(max[2] - min[2]).toBeCloseTo(size.plateMm + size.reliefMm, 4);
  });
});

describe('slivers', () => {
  // A square pyramid with a point a hair off one base edge: the flat triangle is flipped, nothing else changes.
  const points = [
    [0, 0, 0],
    [4, 0, 0],
    [4, 4, 0],
    [0, 4, 0],
    [2, 2, 3],
    [2, 1e-5, 0],
  ];
  const faces = [
    [0, 3, 2],
    [0, 2, 1],
    [0, 1, 5],
    [0, 5, 4],
    [5, 1, 4],
    [1, 2, 4],
    [2, 3, 4],
    [3, 0, 4],
  ];
  it('are flipped; the body keeps its vertices and volume and stays closed', () => {
    const mesh = meshOf(points, faces);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(sliversOf(mesh, 1e-4)).toEqual([2]);
    const mended = flipSlivers(mesh, 1e-4);
    expect(sliversOf(mended, 1e-4)).toEqual([]);
    expect(buildTopology(mended).isWatertight).toBe(true);
    expect(mended.triangles.length).toBe(mesh.triangles.length);
    expect(measure(mended).volumeMm3).toBeCloseTo(16, 3);
  });
});
