import { afterAll, describe, expect, it } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { arcCurve, lineCurve } from '../../src/phantoms/curve.js';
import { heronLesion } from '../../src/phantoms/demo-lesions.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { isClean } from '../../src/print/check-solid.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printFiles } from '../../src/print/print-files.js';
import { repairPart } from '../../src/print/repair-part.js';
import { Workshop } from '../../src/print/workshop.js';
import { box, meshOf } from '../mesh/shapes.js';
import { admesh, bareInput, has, inputOf, moved, together } from './make.js';

const workshop = await Workshop.open();
afterAll(() => workshop.close());
const repair = (mesh: TriangleMesh) => repairPart(workshop, { name: 'x', mesh, isStop: true }, 6);
const ball = (radius: number, at: [number, number, number] = [0, 0, 0]): TriangleMesh =>
  sacMesh({ centreMm: at, semiAxesMm: [radius, radius, radius], rotation: [1, 0, 0, 0], lobes: [] }, 12);
const without = (mesh: TriangleMesh, drop: (t: number) => boolean): TriangleMesh => ({
  positions: mesh.positions,
  triangles: mesh.triangles.filter((_, i) => !drop(Math.floor(i / 3))),
});

describe('repair', () => {
  it('fills holes, planar and non-planar, and lists each with size and place', async () => {
    const whole = ball(8);
    const holed = without(whole, (t) => t === 100 || t === 700 || t === 701 || t === 702);
    expect(buildTopology(holed).loops.length).toBeGreaterThan(1);
    const { body, findings, repairs } = await repair(holed);
    expect(findings.every((f) => f.id === 'print-hole-filled')).toBe(true);
    expect(findings.length).toBe(buildTopology(holed).loops.length);
    expect(repairs[0]).toMatch(/mm across at \[.*\] mm/);
    expect(Math.abs(body!.volume() / workshop.solid(whole).volume() - 1)).toBeLessThan(1e-3);
  });

  it('does not invent a wall over a large ragged hole: the part is left out', async () => {
    const whole = ball(8);
    const { positions, triangles } = whole;
    const ragged = without(whole, (t) => {
      const [x, , z] = [0, 1, 2].map((k) => positions[3 * triangles[3 * t] + k]);
      return z > 2 + 3 * Math.sin(x);
    });
    const { body, findings } = await repair(ragged);
    expect(body).toBeUndefined();
    expect(findings.at(-1)).toMatchObject({ id: 'print-part-left-out', level: 'stop' });
    expect(findings.at(-1)?.text).toMatch(/opening of \d+\.\d mm at \[/);
  });

  it('removes triangles without area and joins vertices within its tolerance', async () => {
    const whole = box(4, 5, 6);
    const flat = { ...whole, triangles: Uint32Array.from([...whole.triangles, 0, 0, 1]) };
    const plain = await repair(flat);
    expect(plain.findings).toMatchObject([{ id: 'print-triangles-removed', level: 'note' }]);
    expect(plain.findings[0].text).toMatch(/^1 triangles? without area/);
    expect(plain.body!.volume()).toBeCloseTo(120, 4);
    // one corner of one triangle is 0.004 mm off, within 0.005 mm
    const torn = whole.triangles.slice();
    const corner = torn[0];
    torn[0] = whole.positions.length / 3;
    const [x, y, z] = whole.positions.subarray(3 * corner, 3 * corner + 3);
    const positions = Float64Array.from([...whole.positions, x + 0.004, y, z]);
    const joined = await repair({ positions, triangles: torn });
    expect(joined.findings).toMatchObject([{ id: 'print-vertices-joined', level: 'note' }]);
    expect(joined.body!.volume()).toBeCloseTo(120, 1);
  });

  it('flips a body that is inside out, and single triangles that face inwards', async () => {
    const whole = box(4, 5, 6);
    const turned = whole.triangles.slice();
    for (let t = 0; t < turned.length; t += 3)
      [turned[t + 1], turned[t + 2]] = [turned[t + 2], turned[t + 1]];
    const { body, findings } = await repair({ positions: whole.positions, triangles: turned });
    expect(body!.volume()).toBeCloseTo(120, 4);
    expect(findings.map((f) => f.id)).toEqual(['print-triangles-turned']);
    const single = whole.triangles.slice();
    [single[1], single[2]] = [single[2], single[1]];
    expect((await repair({ positions: whole.positions, triangles: single })).body!.volume()).toBeCloseTo(
      120,
      4,
    );
  });

  it('removes a fin at an edge shared by three triangles', async () => {
    const cube = box(4, 4, 4);
    const fin = meshOf(
      [...Array.from({ length: 8 }, (_, i) => [...cube.positions.slice(3 * i, 3 * i + 3)]), [-3, 2, 7]],
      [...Array.from({ length: 12 }, (_, i) => [...cube.triangles.slice(3 * i, 3 * i + 3)]), [4, 6, 8]],
    );
    const { body, findings } = await repair(fin);
    expect(findings.map((f) => f.id)).toContain('print-edges-mended');
    expect(body!.volume()).toBeCloseTo(64, 3);
  });

  it('fills an inner cavity', async () => {
    const inner = box(1, 1, 1, [1, 1, 1]);
    const hollow = inner.triangles.slice();
    for (let t = 0; t < hollow.length; t += 3)
      [hollow[t + 1], hollow[t + 2]] = [hollow[t + 2], hollow[t + 1]];
    const { body, findings } = await repair(
      together(box(4, 4, 4), { positions: inner.positions, triangles: hollow }),
    );
    expect(findings).toMatchObject([
      { id: 'print-cavity-filled', text: expect.stringContaining('1.00 mm³') },
    ]);
    expect(body!.volume()).toBeCloseTo(64, 4);
  });

  it('rebuilds a tube that runs through itself at the crossing only: the overlap counts once', async () => {
    // A loop of slightly more than a full turn, so that its end runs through its start.
    const tube = (turn: number): TriangleMesh =>
      sweptTube(
        roundTube(arcCurve([0, 0, 0], [1, 0, 0], [0, 1, 0], 12, turn), () => 5),
        { around: 32, stepMm: 0.8 },
      );
    const overlap = tube(2 * Math.PI + 0.35);
    const { body, findings } = await repair(overlap);
    expect(findings.map((f) => f.id)).toEqual(['print-crossing-mended']);
    // The ring alone: 2·pi²·R·r², by Pappus; polygons of 32 corners have 0.64 % less.
    const ring = 2 * Math.PI ** 2 * 12 * 2.5 ** 2 * ((32 * Math.sin((2 * Math.PI) / 32)) / (2 * Math.PI));
    expect(Math.abs(body!.volume() / ring - 1)).toBeLessThan(0.01);
    expect(workshop.solid(overlap).volume()).toBeGreaterThan(1.04 * ring);
    expect(body!.genus()).toBe(1);
  }, 180_000);
});

describe('a broken lesion becomes printable', () => {
  it('holes, a loose fragment and crossing bodies: each listed, the print clean', async () => {
    const input = inputOf(heronLesion());
    const parts = input.parts
      .filter((p) => ['sac', 'feeder', 'drain'].includes(p.role))
      .map((p) => {
        if (p.name === 'sac')
          return {
            ...p,
            mesh: together(
              without(p.mesh, (t) => t === 40),
              ball(1, [300, 0, 0]),
            ),
          };
        // A second body that crosses the vessel, in the same file.
        if (p.name === 'A1')
          return {
            ...p,
            mesh: together(
              p.mesh,
              ball(3, [...p.mesh.positions.slice(900, 903)] as [number, number, number]),
            ),
          };
        return p;
      });
    const pack = await preparePrint({ ...input, parts });
    const found = pack.findings.map((f) => [f.id, f.where]);
    expect(found).toContainEqual(['print-hole-filled', 'sac']);
    expect(found).toContainEqual(['print-island-removed', 'sac']);
    const island = pack.findings.find((f) => f.id === 'print-island-removed')!;
    expect(island.text).toMatch(/4\.\d\d mm³ \(2\.0 x 2\.0 x 2\.0 mm\) at \[300\.0, 0\.0, 0\.0\] mm/);
    expect(pack.parts.every((p) => isClean(p.check))).toBe(true);
    expect(pack.parts[0].check.bodies).toBe(1);
    expect(pack.result.parts.find((p) => p.name === 'sac')?.repairs?.length).toBe(2);
    if (has('admesh'))
      expect(admesh(printFiles(pack)[0].bytes)).toMatchObject({
        'Total disconnected facets': 0,
        'Number of parts': 1,
      });
  }, 180_000);

  it('bridges a vessel that stops short if its gap was measured, otherwise stops', async () => {
    const input = inputOf(heronLesion());
    const sac = input.parts.find((p) => p.name === 'sac')!;
    const v1 = input.lesion.vessels.find((v) => v.name === 'V1')!;
    const line = v1.centrelineMm;
    const end = line[line.length - 1];
    const before = line[line.length - 8];
    const back = [0, 1, 2].map((k) => before[k] - end[k]) as [number, number, number];
    const n = Math.hypot(...back);
    const away = back.map((c) => (6 * c) / n) as [number, number, number];
    const parts = input.parts
      .filter((p) => ['sac', 'feeder', 'drain'].includes(p.role))
      .map((p) => (p.name === 'V1' ? { ...p, mesh: moved(p.mesh, away) } : p));
    expect(sac).toBeDefined();
    const shifted = {
      ...v1,
      centrelineMm: [
        ...line.map((q) => [0, 1, 2].map((k) => q[k] + away[k]) as [number, number, number]),
        end,
      ],
    };
    const lesion = {
      ...input.lesion,
      vessels: input.lesion.vessels.map((v) => (v.name === 'V1' ? shifted : v)),
    };
    const bridged = await preparePrint({ ...input, parts, lesion });
    expect(bridged.findings.map((f) => [f.id, f.where])).toContainEqual(['print-part-bridged', 'V1']);
    expect(bridged.parts[0].check.bodies).toBe(1);
    const without1 = { ...lesion, vessels: lesion.vessels.filter((v) => v.name !== 'V1') };
    const held = await preparePrint({ ...input, parts, lesion: without1 });
    expect(held.findings.find((f) => f.id === 'print-part-floating')).toMatchObject({
      level: 'caution',
      where: 'V1',
    });
    expect(held.findings.find((f) => f.id === 'print-strut')?.where).toBe('V1');
    expect(held.parts[0].check.bodies).toBe(1);
    const print = { ...input.print, struts: 'no' as const };
    const loose = await preparePrint({ ...input, parts, lesion: without1, print });
    expect(loose.findings.find((f) => f.id === 'print-part-floating')).toMatchObject({
      level: 'stop',
      where: 'V1',
    });
  }, 180_000);

  it('stops without a file where nothing can be made solid', async () => {
    const sheet = meshOf(
      [
        [0, 0, 0],
        [30, 0, 0],
        [0, 30, 9],
        [30, 30, -9],
      ],
      [
        [0, 1, 2],
        [1, 3, 2],
      ],
    );
    const pack = await preparePrint(
      bareInput([{ name: 'sac', role: 'sac', mesh: sheet }], { vessels: [], neighbours: [] }),
    );
    expect(pack.findings.map((f) => f.id)).toEqual(
      expect.arrayContaining(['print-part-left-out', 'print-nothing']),
    );
    expect(printFiles(pack)).toEqual([]);
  });

  it('parts named model and tag do not replace the program’s own', async () => {
    const tube = sweptTube(roundTube(lineCurve([0, 0, 0], [20, 0, 0]), () => 4));
    const pack = await preparePrint(
      bareInput(
        [
          { name: 'model', role: 'feeder', mesh: tube },
          { name: 'MODEL', role: 'sac', mesh: ball(8, [22, 0, 0]) },
        ],
        { vessels: [], neighbours: [] },
      ),
    );
    expect(printFiles(pack).map((f) => f.path)).toEqual([
      'model.stl',
      'model-2.stl',
      'MODEL-3.stl',
      'tag.stl',
      'model.3mf',
    ]);
    expect(pack.result.parts[0]).toMatchObject({ file: 'model.stl', role: 'model' });
  }, 180_000);
});
