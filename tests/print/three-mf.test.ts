import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import { DOMParser } from 'linkedom';
import { Color, type Group, type Mesh, type MeshPhongMaterial, SRGBColorSpace, Vector3 } from 'three';
import { ThreeMFLoader } from 'three/addons/loaders/3MFLoader.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { heronLesion, ploverLesion } from '../../src/phantoms/demo-lesions.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printedObjects, printFiles, shownBodies } from '../../src/print/print-files.js';
import { modelThumbnail } from '../../src/report/figures/model-thumbnail.js';
import { has, inputOf } from './make.js';

// Outside check: a loader of three.js 0.187 reads the package, with the XML parser of linkedom 0.18.15.
const SLICER = 'prusa-slicer';
const folder = mkdtempSync(join(tmpdir(), '3mf-'));
const before = globalThis.DOMParser;
beforeAll(() => {
  globalThis.DOMParser = DOMParser as unknown as typeof globalThis.DOMParser;
});
afterAll(() => {
  globalThis.DOMParser = before;
  rmSync(folder, { recursive: true, force: true });
});

const inputs = {
  heron: () => inputOf(heronLesion()),
  'plover, cut': () => inputOf(ploverLesion(), { cut: { by: 'neck', vessel: 'A1' } }),
  'plover, thickened': () => inputOf(ploverLesion(), { process: 'material-extrusion' }),
};
type Name = keyof typeof inputs;
const names = Object.keys(inputs) as Name[];
const made = new Map<Name, Promise<{ pack: PrintPackage; bytes: Uint8Array; thumbnail: Uint8Array }>>();
const packOf = (name: Name) => {
  const pack =
    made.get(name) ??
    preparePrint(inputs[name]()).then((p) => {
      const thumbnail = modelThumbnail(shownBodies(p), 'LPS');
      const bytes = printFiles(p, thumbnail).find((f) => f.path === 'model.3mf')!.bytes;
      return { pack: p, bytes, thumbnail };
    });
  made.set(name, pack);
  return pack;
};

const read = (bytes: Uint8Array): Group =>
  new ThreeMFLoader().parse(
    bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer,
  );

/** Volume by the divergence theorem and lower bounds, as placed by the build. */
function measureMesh(mesh: Mesh): { volume: number; low: number[] } {
  const { geometry } = mesh;
  const flat = geometry.index ? geometry.toNonIndexed() : geometry;
  const p = flat.getAttribute('position');
  const [a, b, c] = [new Vector3(), new Vector3(), new Vector3()];
  let volume = 0;
  mesh.updateWorldMatrix(true, false);
  const low = [Infinity, Infinity, Infinity];
  const at = (v: Vector3, i: number): Vector3 => {
    v.fromBufferAttribute(p, i).applyMatrix4(mesh.matrixWorld);
    v.toArray().forEach((x, k) => {
      low[k] = Math.min(low[k], x);
    });
    return v;
  };
  for (let i = 0; i < p.count; i += 3) volume += at(a, i).dot(at(b, i + 1).cross(at(c, i + 2))) / 6;
  return { volume, low };
}

function meshesOf(group: Group): Mesh[] {
  const found: Mesh[] = [];
  group.traverse((node) => {
    if ((node as Mesh).isMesh) found.push(node as Mesh);
  });
  return found;
}

describe('the 3MF package', () => {
  it.each(names)(
    '%s: three.js reads each object with its name, colour, volume and position',
    async (name) => {
      const { pack, bytes } = await packOf(name);
      const objects = printedObjects(pack).filter(({ place }) => place !== 'apart');
      const group = read(bytes);
      const meshes = meshesOf(group);
      expect(meshes.length).toBe(objects.length);
      meshes.forEach((mesh, i) => {
        const object = objects[i];
        // The loader gives the name to the object that contains the mesh.
        expect([mesh.name, mesh.parent?.name]).toContain(object.name);
        const material = mesh.material as MeshPhongMaterial;
        expect(`#${material.color.getHexString(SRGBColorSpace)}`).toBe(object.colour.toLowerCase());
        const part = pack.parts.find((p) => object.name.startsWith(p.name) && p.mesh === object.mesh)!;
        const { volume, low } = measureMesh(mesh);
        expect(Math.abs(volume / part.check.volumeMm3 - 1)).toBeLessThan(1e-3);
        // On the bed, at positive coordinates, not mirrored.
        expect(low[2]).toBeCloseTo(0, 3);
        expect(Math.min(low[0], low[1])).toBeGreaterThan(5);
      });
    },
    180_000,
  );

  it('the colours of the test differ', async () => {
    const { pack } = await packOf('heron');
    expect(new Set(printedObjects(pack).map((o) => new Color(o.colour).getHex())).size).toBeGreaterThan(4);
  }, 180_000);

  it.each(names)(
    '%s: parts, types and relationships follow the packaging conventions',
    async (name) => {
      const { bytes, thumbnail } = await packOf(name);
      const parts = unzipSync(bytes);
      expect(Object.keys(parts)).toEqual([
        '[Content_Types].xml',
        '_rels/.rels',
        '3D/3dmodel.model',
        'Metadata/thumbnail.png',
      ]);
      const text = (path: string): string => new TextDecoder().decode(parts[path]);
      const rels = new DOMParser().parseFromString(text('_rels/.rels'), 'text/xml');
      // ECMA-376 part 2 (thumbnail relationship) and 3MF core specification 1.3, from memory.
      const targets = Object.fromEntries(
        [...rels.querySelectorAll('Relationship')].map((r) => [
          r.getAttribute('Type'),
          r.getAttribute('Target'),
        ]),
      );
      expect(targets).toEqual({
        'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel': '/3D/3dmodel.model',
        'http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail':
          '/Metadata/thumbnail.png',
      });
      const types = new DOMParser().parseFromString(text('[Content_Types].xml'), 'text/xml');
      const byExtension = Object.fromEntries(
        [...types.querySelectorAll('Default')].map((d) => [
          d.getAttribute('Extension'),
          d.getAttribute('ContentType'),
        ]),
      );
      for (const path of Object.keys(parts).slice(1))
        expect(byExtension).toHaveProperty(path.split('.').at(-1)!);
      expect(byExtension.png).toBe('image/png');
      expect(parts['Metadata/thumbnail.png']).toEqual(thumbnail);
    },
    180_000,
  );

  it.each(names)(
    '%s: the model follows the rules of the core specification',
    async (name) => {
      const { bytes } = await packOf(name);
      const xml = new TextDecoder().decode(unzipSync(bytes)['3D/3dmodel.model']);
      const model = new DOMParser().parseFromString(xml, 'text/xml');
      expect(model.documentElement.getAttribute('unit')).toBe('millimeter');
      const ids = [...model.querySelectorAll('resources > *')].map((r) => r.getAttribute('id'));
      expect(new Set(ids).size).toBe(ids.length);
      const objects = [...model.querySelectorAll('object')];
      // What is not built is of type `other`: no slicer prints it.
      const built = [...model.querySelectorAll('build > item')].map((item) => item.getAttribute('objectid'));
      expect(
        objects.filter((o) => o.getAttribute('type') === 'model').map((o) => o.getAttribute('id')),
      ).toEqual(built);
      expect(objects.filter((o) => o.getAttribute('type') === 'other').length).toBe(
        objects.length - built.length,
      );
      expect(objects[0].getAttribute('name')).toBe(name === 'plover, cut' ? 'half-A' : 'model');
      const bases = model.querySelectorAll('base').length;
      for (const object of objects) {
        expect(Number(object.getAttribute('pindex'))).toBeLessThan(bases);
        const rows = [...object.querySelectorAll('vertex')].map((v) =>
          ['x', 'y', 'z'].map((k) => v.getAttribute(k)).join(' '),
        );
        // No two vertices in one position.
        expect(new Set(rows).size).toBe(rows.length);
        const edges = new Map<string, number>();
        for (const t of object.querySelectorAll('triangle')) {
          const v = ['v1', 'v2', 'v3'].map((k) => Number(t.getAttribute(k)));
          expect(new Set(v).size).toBe(3);
          for (let k = 0; k < 3; k++) {
            const edge = `${v[k]} ${v[(k + 1) % 3]}`;
            edges.set(edge, (edges.get(edge) ?? 0) + 1);
          }
        }
        // Manifold with consistent winding: each edge is used once in each direction.
        for (const [edge, count] of edges) {
          expect(count).toBe(1);
          expect(edges.get(edge.split(' ').reverse().join(' '))).toBe(1);
        }
      }
      const metadata = [...model.querySelectorAll('metadata')].map((m) => m.getAttribute('name'));
      expect(metadata).toEqual(['Title', 'Application', 'Description']);
    },
    180_000,
  );

  it('the thumbnail is a small PNG that shows something', async () => {
    const { thumbnail } = await packOf('heron');
    expect([...thumbnail.subarray(1, 4)]).toEqual([...Buffer.from('PNG')]);
    const view = new DataView(thumbnail.buffer, thumbnail.byteOffset);
    expect([view.getUint32(16), view.getUint32(20)]).toEqual([256, 256]);
    const blank = modelThumbnail([], 'LPS');
    expect(thumbnail.length).toBeGreaterThan(3 * blank.length);
  }, 180_000);

  // Outside check: a slicer for material extrusion reports no fault in any object.
  it.skipIf(!has(SLICER)).each(names)(
    '%s: a slicer reads every object closed, with its volume',
    async (name) => {
      const { pack, bytes } = await packOf(name);
      const file = join(folder, 'model.3mf');
      writeFileSync(file, bytes);
      const ran = spawnSync(SLICER, ['--datadir', join(folder, 'settings'), '--info', file], {
        encoding: 'utf8',
        timeout: 120_000,
      });
      const facts = (key: string): string[] =>
        [...ran.stdout.matchAll(new RegExp(`^${key} = +(\\S+)$`, 'gm'))].map((m) => m[1]);
      const objects = printedObjects(pack).filter(({ place }) => place !== 'apart');
      expect(facts('manifold')).toEqual(objects.map(() => 'yes'));
      expect(facts('open_edges')).toEqual([]);
      facts('volume').forEach((volume, i) => {
        const part = pack.parts.find((p) => p.mesh === objects[i].mesh)!;
        expect(Math.abs(Number(volume) / part.check.volumeMm3 - 1)).toBeLessThan(1e-3);
      });
    },
    120_000,
  );
});
