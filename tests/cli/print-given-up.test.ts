import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { add, cross, normalize, scale, type Vec3 } from '../../src/foundation/vector.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { randomStream } from '../../src/phantoms/random.js';
import { box } from '../geometry/end-shapes.js';
import { pavm } from './run-pavm.js';

const dir = mkdtempSync(join(tmpdir(), 'given-up-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

/** Thin rods that all pass through one point, as one surface. */
function bundle(count: number, middle: Vec3) {
  const random = randomStream(7);
  const rod = box(60, 0.8, 0.8, 1);
  const positions = new Float64Array(count * rod.positions.length);
  const triangles = new Uint32Array(count * rod.triangles.length);
  for (let n = 0; n < count; n++) {
    const [along, near] = [0, 1].map(() => [0, 1, 2].map(() => random.next() - 0.5) as Vec3);
    const u = normalize(along);
    const v = normalize(cross(u, [0.3, -0.5, 0.8]));
    const w = cross(u, v);
    const centre = add(middle, scale(near, 10));
    for (let i = 0; i < rod.positions.length; i += 3) {
      const [x, y, z] = rod.positions.subarray(i, i + 3);
      const p = add(centre, add(scale(u, x), add(scale(v, y), scale(w, z))));
      positions.set(p, n * rod.positions.length + i);
    }
    for (let i = 0; i < rod.triangles.length; i++)
      triangles[n * rod.triangles.length + i] = rod.triangles[i] + (n * rod.positions.length) / 3;
  }
  return { positions, triangles };
}

it('gives up a print that would take forever after a counted amount of work, and writes the rest of the plan', {
  timeout: 180_000,
}, () => {
  cpSync('cases/plover', dir, { recursive: true });
  writeFileSync(join(dir, 'meshes/rods.stl'), writeStl(bundle(490, [60, 30, -50])));
  const file = join(dir, 'case.yaml');
  const text = readFileSync(file, 'utf8');
  const rods = '- { name: bronchus, role: airway, mesh: meshes/rods.stl }\n    ';
  writeFileSync(file, text.replace('- { name: B1', `${rods}- { name: B1`));
  const ran = pavm(['plan', dir]);
  expect(ran.code).toBe(1);
  expect(ran.stderr).toMatch(
    /^stop print: Making the printable model was given up .* while mending bronchus/m,
  );
  const result = JSON.parse(readFileSync(join(dir, 'plan', 'result.json'), 'utf8'));
  expect(result.print).toBeUndefined();
  expect(result.print_absent_because).toMatch(/given up after a fixed amount of work/);
  expect(result.devices.A1.code).toBe('PLUG-10');
  expect(readFileSync(join(dir, 'plan', 'plan.md'), 'utf8')).toContain('given up');
});
