import { describe, expect, it } from 'vitest';
import { type Placement, standOnBed } from '../../src/print/bed.js';
import { box } from '../mesh/shapes.js';

/** Boxes with these edges on the bed of a printer, LPS. */
function stood(boxes: [number, number, number][], buildUp?: 'left' | 'superior') {
  const findings: { id: string; level: string }[] = [];
  const job = { input: { print: { buildUp }, frame: 'LPS' }, findings };
  const parts = boxes.map((edges, i) => ({ name: `B${i}`, role: 'model', mesh: box(...edges) }));
  return { placed: standOnBed(job as never, parts as never) as Placement[], findings };
}

describe('a body on the bed', () => {
  it('stands on the side asked for, otherwise on the one below the patient, and gives its footprint', () => {
    const [plain] = stood([[20, 30, 40]]).placed;
    // the underside of 20 by 30 mm
    expect(plain).toMatchObject({ up: 'superior', footMm2: 600, isAsked: false, isOnPoint: false });
    const [left] = stood([[20, 30, 40]], 'left').placed;
    expect(left).toMatchObject({ up: 'left', footMm2: 1200, isAsked: true, isOnPoint: false });
  });

  it('is placed next to the others with a gap, all coordinates positive', () => {
    const { placed } = stood([
      [20, 30, 40],
      [5, 5, 5],
    ]);
    const [first, second] = placed.map(({ moveMm }) => moveMm);
    // width is the patient's left, that is x
    expect(first[0]).toBe(10);
    expect(first[2]).toBeCloseTo(0, 12);
    expect(second[0]).toBe(10 + 20 + 10);
  });

  it('is turned if its footprint on that side is too small, and is reported if it is small on all sides', () => {
    const [turned] = stood([[1, 1, 40]]).placed;
    // 1 mm2 below, 40 mm2 on its long sides
    expect(turned.footMm2).toBe(40);
    expect(turned.isOnPoint).toBe(false);
    const small = stood([[1, 1, 1]]);
    expect(small.placed[0].isOnPoint).toBe(true);
    expect(small.findings).toMatchObject([{ id: 'print-foot-small' }]);
  });
});
