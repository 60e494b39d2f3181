import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { loadSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { pavm as batch, planFolders, treeOf } from '../batch/make-batch.js';
import { pavm } from './run-pavm.js';

const dir = mkdtempSync(join(tmpdir(), 'pavm-crossings-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

/** A closed round tube along z, meshed so finely that its crossings are searched in a separate thread. */
function fineTube(around: number, along: number): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  for (let i = 0; i <= along; i++) {
    for (let j = 0; j < around; j++) {
      const angle = (2 * Math.PI * j) / around;
      positions.push(120 + 4 * Math.cos(angle), 90 + 4 * Math.sin(angle), -20 + (60 * i) / along);
    }
  }
  positions.push(120, 90, -20, 120, 90, 40);
  const [first, last] = [around * (along + 1), around * (along + 1) + 1];
  for (let j = 0; j < around; j++) {
    const next = (j + 1) % around;
    for (let i = 0; i < along; i++) {
      const [a, b] = [i * around + j, i * around + next];
      triangles.push(a, b, b + around, a, b + around, a + around);
    }
    triangles.push(first, next, j, last, along * around + j, along * around + next);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

/** One vertex of the wall pushed through the opposite wall. */
function pierced(mesh: TriangleMesh, vertex: number): TriangleMesh {
  const positions = mesh.positions.slice();
  positions[3 * vertex] -= 9;
  return { ...mesh, positions };
}

describe('crossing triangles of a large surface', () => {
  cpSync('cases/plover', dir, { recursive: true, filter: (from) => !/[\\/]plan([\\/]|$)/.test(from) });
  const caseFile = join(dir, 'case.yaml');
  const airway = '    - { name: bronchus, role: airway, mesh: meshes/bronchus.stl }\n';
  const text = readFileSync(caseFile, 'utf8').replace(/ {4}- \{ name: V1,/, `${airway}    - { name: V1,`);
  writeFileSync(caseFile, text);
  const stl = join(dir, 'meshes', 'bronchus.stl');
  const tube = fineTube(300, 300);

  it('are searched while measuring, with the same report as an immediate search', async () => {
    expect(tube.triangles.length / 3).toBeGreaterThan(150_000);
    writeFileSync(stl, writeStl(pierced(tube, 150 * 300), 'bronchus'));
    const atOnce = await loadSurface(stl, { unitMm: 1, label: 'bronchus' });
    const expected = atOnce.findings.filter(({ id }) => id === 'self-intersection');
    expect(expected).toHaveLength(1);
    expect([0, 1]).toContain(pavm(['plan', dir]).code);
    const result = JSON.parse(readFileSync(join(dir, 'plan', 'result.json'), 'utf8'));
    const said = result.findings.filter((f: { id: string }) => f.id === 'self-intersection');
    expect(said).toEqual(expected);
  });

  it('are found together with the coarser copy for pictures and print, as without a second thread', async () => {
    const fine = join(dir, 'fine');
    expect([0, 1]).toContain((await batch(['batch', dir, '--out', fine])).code);
    const [name] = planFolders(fine);
    expect(treeOf(join(fine, name))).toEqual(treeOf(join(dir, 'plan')));
    expect(readFileSync(join(dir, 'plan', 'result.json'), 'utf8')).toContain('"drawn-coarser"');
  });

  it('do not delay a case that turns out to be unusable', () => {
    writeFileSync(stl, writeStl(tube, 'bronchus'));
    writeFileSync(join(dir, 'meshes', 'drain-1.stl'), 'no surface');
    writeFileSync(caseFile, text.replace('mesh: meshes/V1.stl', 'mesh: meshes/drain-1.stl'));
    expect(pavm(['plan', dir])).toMatchObject({ code: 3 });
  });
});
