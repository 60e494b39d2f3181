import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { glb, gltfParts, meshXml, model, threeMf } from '../mesh/mesh-bytes.js';
import { cylinder } from '../mesh/shapes.js';
import { pavm } from './run-pavm.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-extreme-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const file = (name: string, bytes: Uint8Array): string => {
  writeFileSync(join(base, name), bytes);
  return name;
};

describe('a transform far out of bounds', () => {
  const tube = cylinder(8, 2, 5, 2);
  const { json, data } = gltfParts(tube);
  const moved = (x: number): Uint8Array =>
    glb({ ...json, nodes: [{ ...json.nodes[0], translation: [x, 0, 0] }] }, data);
  const packed = (x: number): Uint8Array =>
    threeMf(
      model(
        `<object id="1" name="part">${meshXml(tube)}</object>`,
        `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 ${x} 0 0"/>`,
      ),
    );
  it.each([
    [
      'far.glb',
      moved(1e308),
      /^far\.glb: object "part": its transform moves vertex 1 to 1e\+308, .*, which is not a usable place\. Export the surface again\.\n$/,
    ],
    ['far.3mf', packed(1e308), /^far\.3mf: object "part": its transform moves vertex 1 to 1e\+308, /],
    [
      'off.glb',
      moved(1e30),
      /^off\.glb: its coordinates reach 1\.00e\+33 mm, farther than the 1000000000 mm that can be computed with\. Check unit and transforms\.\n$/,
    ],
    ['off.3mf', packed(1e30), /^off\.3mf: its coordinates reach 1\.00e\+30 mm/],
  ])('%s is refused in one line', (name, bytes, line) => {
    file(name, bytes);
    const ran = pavm(['inspect', name], { cwd: base });
    expect(ran).toMatchObject({ code: 3, stdout: '', stderr: expect.stringMatching(line) });
  });
  it('accepts a transform of a kilometre', () => {
    expect(pavm(['inspect', file('near.3mf', packed(1e6))], { cwd: base }).code).toBe(0);
  });
});

describe('a label map of a few bytes', () => {
  it.each([1, 2, 3, 4, 347])('of %i is refused in one line', (length) => {
    const header = Buffer.alloc(length);
    if (length >= 4) header.writeInt32LE(348, 0);
    file('map.nii', header);
    writeFileSync(
      join(base, 'case.yaml'),
      'format: pavm-case/1\nid: short\nsurfaces:\n  unit: mm\n  labels:\n    file: map.nii\n    parts:\n      - { label: 1, name: A1, role: feeder }\n',
    );
    expect(pavm(['surface', 'case.yaml'], { cwd: base })).toMatchObject({
      code: 3,
      stderr: 'map.nii: NIfTI header: it is damaged or cut off. Export the label map again.\n',
    });
  });
});

describe('a bronchus of 2048 loose triangles', () => {
  it('is left out of the print, which says so, and the plan is complete', () => {
    const folder = join(base, 'loose');
    cpSync('cases/heron', folder, { recursive: true });
    const random = mulberry32(5);
    const positions = new Float64Array(9 * 2048);
    for (let t = 0; t < 2048; t++) {
      const middle = [60 + 60 * random(), 60 * random(), -90 + 60 * random()];
      for (let i = 0; i < 9; i++) positions[9 * t + i] = middle[i % 3] + 4 * random() - 2;
    }
    const triangles = Uint32Array.from({ length: 3 * 2048 }, (_, i) => i);
    writeFileSync(join(folder, 'meshes/bronchus.stl'), writeStl({ positions, triangles }, 'loose'));
    const ran = pavm(['plan', folder]);
    expect(ran.code).toBe(0);
    const result = JSON.parse(readFileSync(join(folder, 'plan/result.json'), 'utf8'));
    expect(result.findings).toContainEqual({
      level: 'caution',
      id: 'print-part-left-out',
      where: 'bronchus',
      text: 'The surface falls into 2048 loose pieces, more than the 500 that are mended. It is left out of the print; mend the surface where it was segmented.',
    });
    expect(result.print.gauges.length).toBeGreaterThan(3);
    expect(readFileSync(join(folder, 'plan/print/model.stl')).length).toBeGreaterThan(10_000);
    expect(readFileSync(join(folder, 'plan/plan.md'), 'utf8')).toContain('2048 loose pieces');
  }, 600_000);
});
