import { describe, expect, it, vi } from 'vitest';
import { measurePrepared, prepareParts } from '../../src/geometry/lesion-of-parts.js';
import type { LoadedPart } from '../../src/geometry/loaded-part.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { box, gridSphere, moved, together, tube, tubeWall, without } from '../mesh/shapes.js';
import { DEFINITIONS, NO_SCAN } from './make.js';

vi.setConfig({ testTimeout: 60_000 });

const part = (
  name: string,
  role: LoadedPart['part']['role'],
  mesh: TriangleMesh,
  spare = false,
): LoadedPart => ({
  part: { name, role, spare, ...(role === 'branch' && { of: 'A1' }) },
  surface: prepareSurface(
    { format: 'stl-binary', objects: [{ name, mesh }], notes: [] },
    { label: name, shown: `${name}.stl`, unitMm: 1, checkSelfIntersection: false },
  ),
  shown: `${name}.stl`,
});

// a tube from z = 0 to 40 that ends in a ball of radius 8 about z = 46
const A1 = tube(32, 3, 40, 40);
const SAC = moved(gridSphere(24, 8), [0, 0, 46]);
const LOBE = moved(box(60, 60, 2), [-30, -30, 60]);

describe('the structures of a case', () => {
  it('lose the values of one that lies largely in another piece', () => {
    const halves = together(tube(32, 3, 18, 18), moved(tube(32, 3, 18, 18), [0, 0, 22]));
    const prepared = prepareParts([part('A1', 'feeder', halves), part('sac', 'sac', SAC)], {}, 0.2);
    expect([...prepared.withoutNumbers]).toEqual(['A1']);
    const { lesion } = measurePrepared(prepared, DEFINITIONS, NO_SCAN, 'LPS');
    expect(lesion.vessels).toEqual([]);
    expect(lesion.sac).toBeDefined();
  });

  it('lose them from piece-share on, the share of the volume in the lesser piece', () => {
    // two tubes of one calibre: lengths are in proportion to volumes
    const parted = (lesserMm: number): string[] => {
      const mesh = together(tube(32, 3, 30, 30), moved(tube(32, 3, lesserMm), [0, 0, 32]));
      const parts = [part('A1', 'feeder', mesh), part('sac', 'sac', SAC)];
      return [...prepareParts(parts, {}, DEFINITIONS.pieceShare).withoutNumbers];
    };
    const mm = (share: number): number => (30 * share) / (1 - share);
    expect(parted(mm(DEFINITIONS.pieceShare - 0.002))).toEqual([]);
    expect(parted(mm(DEFINITIONS.pieceShare + 0.002))).toEqual(['A1']);
  });

  it('are measured by the lumen and drawn by the outside of a wall', () => {
    const { surfaces, structures } = prepareParts(
      [part('A1', 'feeder', tubeWall(32, 4, 3, 40))],
      {},
      DEFINITIONS.pieceShare,
    );
    const widest = ({ positions }: TriangleMesh): number =>
      positions.reduce((most, x, i) => (i % 3 === 0 ? Math.max(most, x) : most), 0);
    expect(widest(surfaces[0].mesh)).toBeCloseTo(3, 1);
    expect(widest(structures[0].mesh)).toBeCloseTo(4, 1);
  });

  it('may be open next to the lesion, and are closed where they are measured', () => {
    const prepared = prepareParts(
      [part('A1', 'feeder', A1), part('lobe', 'lobe', without(LOBE, 0))],
      {},
      DEFINITIONS.pieceShare,
    );
    const found = prepared.findings.map(({ id, where, level }) => `${where} ${id} ${level}`);
    expect(found).toContain('lobe open-surface note');
    expect(found.some((text) => text.startsWith('A1 end-capped'))).toBe(true);
    expect(prepared.surfaces[0].capTriangles.length).toBeGreaterThan(0);
    expect(prepared.surfaces[1].capTriangles).toEqual([]);
  });

  it('at risk are lobe, airway, heart, chest wall and the branches to keep', () => {
    const beside = (name: string, role: LoadedPart['part']['role'], x: number, spare = false): LoadedPart =>
      part(name, role, moved(gridSphere(8, 2), [x, 0, 46]), spare);
    const prepared = prepareParts(
      [
        part('A1', 'feeder', A1),
        part('sac', 'sac', SAC),
        part('lobe', 'lobe', LOBE),
        beside('airway', 'airway', 20),
        beside('heart', 'heart', -20),
        beside('kept', 'branch', 30, true),
        beside('given up', 'branch', -30),
        beside('V1', 'drain', 40),
      ],
      {},
      DEFINITIONS.pieceShare,
    );
    const { lesion } = measurePrepared(prepared, DEFINITIONS, NO_SCAN, 'LPS');
    const risks = lesion.neighbours.filter(({ from }) => from === 'sac').map(({ to }) => to);
    expect(risks).toEqual(['lobe', 'airway', 'heart', 'kept']);
    // sphere of radius 8 about z = 46, plane at z = 60; the sphere's facets lie slightly inside
    expect(lesion.neighbours.find(({ to }) => to === 'lobe')!.distanceMm).toBeCloseTo(6, 1);
  });
});
