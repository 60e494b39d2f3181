import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { add, cross, normalize, scale, type Vec3 } from '../../src/foundation/vector.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { type LesionPlan, partMeshes } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { valueAt } from '../../src/volume/ct/grey-volume.js';
import { type CtStack, ctFiles } from '../volume/ct/ct-bytes.js';
import { syntheticCt } from '../witness/synthetic-ct.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-witness-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

const PLACE: Vec3 = [62, 21, -48];
const drawn = randomLesion(8);
const move = (p: Vec3): Vec3 => p.map((x, k) => x + PLACE[k]) as Vec3;
const lesion: LesionPlan = {
  ...drawn,
  sac: { ...drawn.sac, centreMm: move(drawn.sac.centreMm) },
  vessels: drawn.vessels.map((v) => ({ ...v, axisMm: v.axisMm.map(move) })),
  neighbours: [],
};
const volume = syntheticCt(lesion, { spacing: [1, 1, 1], marginMm: 5 });
const parts = partMeshes(lesion);

/** The scan as a stack whose columns, rows and slices run along the axes of the patient in these orders and directions. */
function stackAlong(order: [number, number, number], signs: [number, number, number]): Partial<CtStack> {
  const { columns, rows, slices, origins } = volume.stack;
  const sizes = [columns, rows, slices];
  const first = [0, 1, 2].map((d) => origins[d]);
  const counts = order.map((d) => sizes[d]);
  const origin = [...first];
  order.forEach((d, a) => {
    if (signs[a] < 0) origin[d] += sizes[d] - 1;
  });
  const unit = (a: number): Vec3 => [0, 1, 2].map((d) => (d === order[a] ? signs[a] : 0)) as Vec3;
  return {
    columns: counts[0],
    rows: counts[1],
    slices: counts[2],
    spacing: [1, 1, 1],
    thickness: 1,
    origin: origin as Vec3,
    along: unit(0),
    down: unit(1),
    step: unit(2),
    isSigned: true,
    bitsStored: 16,
    intercept: 0,
    value: (...index) => {
      const at = [0, 0, 0];
      order.forEach((d, a) => {
        const n = index[a] as number;
        at[d] = signs[a] > 0 ? n : sizes[d] - 1 - n;
      });
      return volume.values[(at[2] * rows + at[1]) * columns + at[0]];
    },
  };
}

/** The same scan resampled in oblique slices; outside it is lung. */
function obliqueStack(): Partial<CtStack> {
  const along = normalize([0.9, 0.35, -0.2]);
  const step = normalize(cross(along, [0.25, 0.9, 0.3]));
  const down = cross(step, along);
  const { columns, rows, slices, origins } = volume.stack;
  const middle: Vec3 = [
    origins[0] + (columns - 1) / 2,
    origins[1] + (rows - 1) / 2,
    origins[2] + (slices - 1) / 2,
  ];
  const size = 1.5 * Math.max(columns, rows, slices);
  const counts = [Math.ceil(size / 0.9), Math.ceil(size / 0.9), Math.ceil(size)];
  const corner = [along, down, step].reduce<Vec3>(
    (at, axis, a) => add(at, scale(axis, -((counts[a] - 1) * [0.9, 0.9, 1][a]) / 2)),
    middle,
  );
  return {
    columns: counts[0],
    rows: counts[1],
    slices: counts[2],
    spacing: [0.9, 0.9, 1],
    thickness: 1,
    origin: corner,
    along,
    down,
    step,
    isSigned: true,
    bitsStored: 16,
    intercept: 0,
    value: (_i, _j, _k, at) => {
      const value = valueAt(volume, ...at);
      return Number.isNaN(value) ? -850 : Math.round(value);
    },
  };
}

async function measured(
  as: string,
  stack: Partial<CtStack>,
  change: (p: Vec3) => Vec3 = (p) => p,
  frame = 'LPS',
) {
  const folder = join(work, as);
  mkdirSync(join(folder, 'ct'), { recursive: true });
  ctFiles(stack).forEach((bytes, k) => {
    writeFileSync(join(folder, 'ct', `${(k * 7) % 1000}-${k}.dcm`), bytes);
  });
  const rows = parts.map(({ name, role, mesh, of }) => {
    const positions = new Float64Array(mesh.positions.length);
    for (let v = 0; v < positions.length; v += 3)
      positions.set(change([mesh.positions[v], mesh.positions[v + 1], mesh.positions[v + 2]]), v);
    writeFileSync(join(folder, `${name}.stl`), writeStl({ ...mesh, positions }));
    return `    - { name: ${name}, role: ${role}, mesh: ${name}.stl${of === undefined ? '' : `, of: ${of}`} }`;
  });
  writeFileSync(
    join(folder, 'case.yaml'),
    `format: pavm-case/1\nid: ${as}\npurpose: demo\nscan: { series: ct }\nlesion: { side: left, lobe: lower }\nsurfaces:\n  unit: mm\n  frame: ${frame}\n  parts:\n${rows.join('\n')}\n`,
  );
  const result = await measureCase(folder);
  const walls = result.lesion.vessels.map(({ name, wall }) => ({ name, ...wall }));
  const { frame: seen, scan, missed, uncontrasted } = result;
  return { frame: seen, findings: await result.findings(), scan, walls, missed, uncontrasted };
}

describe('the surfaces of a case in its series', { timeout: 120_000 }, () => {
  const usual = stackAlong([0, 1, 2], [1, 1, 1]);
  it('fit, whichever way the slices run and the patient lies', async () => {
    const first = await measured('head-first', usual);
    expect(first.frame).toMatchObject({ verdict: 'fits' });
    expect(Math.hypot(...(first.frame.shift_mm as number[]))).toBeLessThan(0.1);
    // the surfaces are exact, and so are their walls, from 4 mm on
    const offsets = first.walls.flatMap(({ offsetMm }) => offsetMm ?? []);
    expect(offsets.length).toBeGreaterThan(2);
    for (const offset of offsets) expect(Math.abs(offset)).toBeLessThan(0.15);
    expect(first.findings.map(({ id }) => id)).not.toContain('wall-disagrees');
    expect([first.missed, first.uncontrasted]).toEqual([[], []]);
    for (const [name, order, signs] of [
      ['feet-first', [0, 1, 2], [-1, 1, -1]],
      ['prone', [0, 1, 2], [-1, -1, 1]],
      ['coronal', [0, 2, 1], [1, -1, 1]],
    ] as [string, [number, number, number], [number, number, number]][]) {
      const { frame, findings, walls, scan } = await measured(name, stackAlong(order, signs));
      expect(frame).toEqual(first.frame);
      expect(walls.map(({ name: vessel }) => vessel)).toEqual(first.walls.map(({ name: vessel }) => vessel));
      for (const [v, { offsetMm, stations }] of walls.entries()) {
        const before = first.walls[v];
        expect(stations).toHaveLength(before.stations!.length);
        if (offsetMm !== undefined) expect(Math.abs(offsetMm - before.offsetMm!)).toBeLessThan(0.01);
      }
      expect(scan!.blur_mm![0]).toBeCloseTo(first.scan!.blur_mm![0], 1);
      expect(findings.filter(({ level }) => level === 'stop')).toEqual(
        first.findings.filter(({ level }) => level === 'stop'),
      );
    }
  });
  it('fit in oblique slices, with the same walls', async () => {
    const { frame, walls, missed, uncontrasted } = await measured('oblique', obliqueStack());
    expect(frame).toMatchObject({ verdict: 'fits' });
    expect(Math.hypot(...(frame.shift_mm as number[]))).toBeLessThan(0.1);
    const offsets = walls.flatMap(({ offsetMm }) => offsetMm ?? []);
    expect(offsets.length).toBeGreaterThan(2);
    for (const offset of offsets) expect(Math.abs(offset)).toBeLessThan(0.15);
    expect([missed, uncontrasted]).toEqual([[], []]);
  });
  it('stop the plan where they were exported in other axes or shifted, and are not moved', async () => {
    const flipped = await measured('ras', usual, ([x, y, z]) => [-x, -y, z]);
    expect(flipped.frame.verdict).toBe('flipped');
    expect(flipped.walls.every((wall) => !('stations' in wall))).toBe(true);
    expect([flipped.missed, flipped.uncontrasted]).toEqual([undefined, undefined]);
    expect(flipped.findings).toContainEqual(expect.objectContaining({ id: 'frame-flipped', level: 'stop' }));
    const stated = await measured('ras-stated', usual, ([x, y, z]) => [-x, -y, z], 'RAS');
    expect(stated.frame.verdict).toBe('fits');
    const beside = await measured('beside', usual, ([x, y, z]) => [x, y - 3, z]);
    expect(beside.frame).toMatchObject({ verdict: 'shifted', best: 'shift by (0.0, 3.0, 0.0) mm, LPS' });
  });
});
