import { describe, expect, it } from 'vitest';
import { displayErrorMm } from '../../src/page/display-error.js';
import { quantised } from '../../src/page/quantise.js';
import { mergedInCells, thinned } from '../../src/page/simplify.js';
import { cylinder, gridSphere, moved, without } from '../mesh/shapes.js';
import { divergenceVolume } from '../phantoms/mesh-checks.js';

/** Largest distance of any vertex and any triangle's centre from the sphere that the mesh represents. */
function offSphere(mesh: { positions: Float64Array; triangles: Uint32Array }, radius: number): number {
  let worst = 0;
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    const middle = [0, 1, 2].map(
      (k) => [0, 1, 2].reduce((sum, i) => sum + mesh.positions[3 * mesh.triangles[t + i] + k], 0) / 3,
    );
    worst = Math.max(worst, Math.abs(Math.hypot(...middle) - radius));
  }
  return worst;
}

describe('thinning a surface for display', () => {
  it('leaves surfaces within the budget unchanged, byte for byte', async () => {
    const mesh = cylinder(32, 3, 20);
    expect((await thinned([{ mesh, coarse: false }]))[0]).toBe(mesh);
  });

  it('keeps a closed sphere of 10 mm within the stated error, its volume within 1 %', async () => {
    const mesh = gridSphere(260, 10);
    const count = mesh.triangles.length / 3;
    expect(count).toBeGreaterThan(60_000);
    const [thin] = await thinned([{ mesh, coarse: false }], 8000);
    expect(thin.triangles.length / 3).toBeLessThanOrEqual(8000);
    const error = displayErrorMm(mesh, thin);
    expect(error).toBeGreaterThan(0);
    expect(error).toBeLessThan(0.1);
    expect(offSphere(thin, 10)).toBeLessThan(0.15);
    expect(Math.abs(divergenceVolume(thin) / divergenceVolume(mesh) - 1)).toBeLessThan(0.01);
  });

  it('thins an open surface too, within a cell', async () => {
    const closed = gridSphere(260, 10);
    const open = without(closed, 0, 1, 2, 3);
    const [thin] = await thinned([{ mesh: open, coarse: true }], 8000);
    expect(thin.triangles.length / 3).toBeLessThanOrEqual(8000);
    expect(thin.triangles.length).toBeGreaterThan(300);
    expect(displayErrorMm(open, thin)).toBeLessThan((20 / 32) * Math.sqrt(3));
  });

  it('measures a known shift', async () => {
    const mesh = gridSphere(20, 10);
    expect(displayErrorMm(mesh, moved(mesh, [0, 0, 0.5]))).toBeCloseTo(0.5, 1);
    expect(displayErrorMm(mesh, mesh)).toBeLessThan(1e-5);
  });

  it('merges vertices into cells and drops what collapses', () => {
    const mesh = gridSphere(40, 10);
    const merged = mergedInCells(mesh, 4);
    expect(merged.positions.length / 3).toBeLessThanOrEqual(5 ** 3);
    const used = new Set(merged.triangles);
    expect(Math.max(...used)).toBeLessThan(merged.positions.length / 3);
  });
});

describe('the 16-bit grid', () => {
  it('needs 32-bit indices only above 65 536 vertices', () => {
    expect(quantised(gridSphere(20, 10)).indexBytes).toBe(2);
    const many = gridSphere(380, 10);
    expect(many.positions.length / 3).toBeGreaterThan(65_536);
    expect(quantised(many).indexBytes).toBe(4);
  });

  it('accepts a mesh far from the origin and an empty one', () => {
    const far = quantised(moved(gridSphere(10, 10), [5000, -4000, 3000]));
    expect(far.stepMm).toBeCloseTo(20 / 65_535, 6);
    expect(far.origin[2]).toBeCloseTo(2990, 3);
    const none = quantised({ positions: new Float64Array(), triangles: new Uint32Array() });
    expect(none).toMatchObject({ positions: '', triangles: '', origin: [0, 0, 0] });
  });
});
