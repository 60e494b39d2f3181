import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { distance, length, type Vec3 } from '../../src/foundation/vector.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { wholeMesh } from '../../src/phantoms/lesion.js';
import { axes, CALIBRE, tree } from '../geometry/forked-tree.js';
import { pavm } from './run-pavm.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 120_000 });

const folder = mkdtempSync(join(tmpdir(), 'in-tree-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const mesh = join(folder, 'tree.stl');
writeFileSync(mesh, writeStl(wholeMesh(tree(), 0.65).mesh));

/** Where the axis of a vessel leaves a ball around the sac. */
function leaves(name: string, reachMm: number): Vec3 {
  const { axis } = axes.get(name)!;
  for (let s = 0; s < axis.lengthMm; s += 0.05) if (length(axis.pointAt(s)) < reachMm) return axis.pointAt(s);
  throw new RangeError(`${name} does not come so near`);
}

describe('the vessels around a lesion in a tree', () => {
  it('inspect lists where they leave the reach around the sac, and no other end', () => {
    const ran = pavm(['inspect', mesh, '--sac', '1,-1,0.5', '--reach', '30mm', '--json']);
    expect(ran.code).toBe(0);
    const ends = JSON.parse(ran.stdout).objects[0].vessel_ends as {
      at: Vec3;
      calibre_mm: number;
      kind: string;
    }[];
    expect(ends.map(({ kind }) => kind)).toEqual(['cut', 'cut']);
    for (const [i, name] of (['V1', 'A1'] as const).entries()) {
      expect(distance(ends[i].at, leaves(name, 30))).toBeLessThan(1.6);
      expect(Math.abs(ends[i].calibre_mm / CALIBRE[name] - 1)).toBeLessThan(0.04);
    }
  });

  it('a wider reach also lists the ends inside it', () => {
    const ran = pavm(['inspect', mesh, '--sac=0,0,0', '--reach', '60mm', '--json']);
    const kinds = JSON.parse(ran.stdout).objects[0].vessel_ends.map((end: { kind: string }) => end.kind);
    expect(kinds.filter((kind: string) => kind === 'cut')).toHaveLength(1);
    expect(kinds.length).toBe(5);
  });

  it('new writes them with the sac, and the case can be checked', () => {
    const ran = pavm(['new', folder, '--sac=0,0,0', '--reach', '3 cm']);
    expect(ran.code).toBe(0);
    const { whole } = parse(readFileSync(join(folder, 'case.yaml'), 'utf8')).surfaces;
    expect(whole.sac).toEqual([0, 0, 0]);
    expect(whole.ends.map((end: { name: string }) => end.name)).toEqual(['A1', 'V1']);
    expect(pavm(['check', folder]).code).toBe(0);
  });

  it.each([
    [['--sac', '1,2'], 2, /--sac: "1,2" is not a point.*three coordinates/],
    [['--sac', '100,0,0'], 2, /--sac: the point is not inside the surface/],
    [['--reach', '30mm'], 2, /--reach: it counts from the sac/],
    [['--sac', '0,0,0', '--reach', '30'], 2, /--reach.*unit/],
    [['--sac', '0,0,0', '--reach', '2 m'], 2, /--reach.*up to 500 mm/],
  ])('%j is refused', (flags, code, message) => {
    const ran = pavm(['inspect', mesh, ...flags]);
    expect(ran.code).toBe(code);
    expect(ran.stderr).toMatch(message);
  });
});
