import { strToU8, zipSync } from 'fflate';
import { describe, expect, it, vi } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { measure } from '../../src/mesh/measures.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { BinaryStlReader } from '../../src/mesh/read/stl-binary.js';
import { parseDecimal } from '../../src/mesh/read/text-scanner.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { weld } from '../../src/mesh/weld.js';
import { write3mf } from '../../src/mesh/write-3mf.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import {
  asciiStl,
  everyFormat,
  glb,
  gltf,
  gltfParts,
  joinBytes,
  meshXml,
  model,
  ply,
  threeMf,
} from './mesh-bytes.js';
import { box, cylinder, tetrahedron, together } from './shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

/** The one line of a refusal. */
async function refusal(bytes: Uint8Array | string, file: string): Promise<string> {
  try {
    await readMesh(typeof bytes === 'string' ? strToU8(bytes) : bytes, file);
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    expect(error.exitCode).toBe(3);
    expect(error.problems).toHaveLength(1);
    expect(error.message.startsWith(`${file}: `)).toBe(true);
    return error.message;
  }
  throw new Error('the file was read');
}

describe('every format', () => {
  const shape = box(2, 3, 4);
  it.each(Object.entries(everyFormat(shape)))('%s returns the box', async (file, bytes) => {
    const read = await readMesh(bytes, file);
    expect(read.objects).toHaveLength(1);
    const { mesh } = weld(read.objects[0].mesh);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(mesh.positions).toHaveLength(24);
    expect(measure(mesh)).toEqual({ volumeMm3: 24, areaMm2: 52 });
    expect(read.notes).toEqual([]);
    expect(read.unitMm).toBe(/gl/.test(file) ? 1000 : file.endsWith('3mf') ? 1 : undefined);
  });
  it('goes by content where the extension says otherwise, and says so', async () => {
    const read = await readMesh(ply(shape, 'ascii'), 'vessel.stl');
    expect(read.format).toBe('ply');
    expect(read.notes).toEqual(['The name ends in .stl, the content is PLY.']);
  });
  it.each(['a.stl', 'a.obj', 'a.ply', 'a.gltf', 'a.glb', 'a.3mf'])(
    'refuses the empty file %s',
    async (file) => {
      expect(await refusal('', file)).toBe(`${file}: the file is empty. Export the surface again.`);
    },
  );
  it.each([
    ['a.stl', 'solid x\nendsolid x\n'],
    ['a.obj', 'v 0 0 0\n'],
    [
      'a.ply',
      'ply\nformat ascii 1.0\nelement vertex 0\nproperty float x\nproperty float y\nproperty float z\nelement face 0\nproperty list uchar int vertex_indices\nend_header\n',
    ],
    ['a.gltf', '{"asset":{"version":"2.0"}}'],
  ])('refuses %s without triangles', async (file, text) => {
    expect(await refusal(text, file)).toContain('it contains no triangles');
  });
  it('refuses a file that is not a mesh and lists the formats', async () => {
    expect(await refusal('hello there, this is a letter', 'letter.txt')).toContain('STL, OBJ, PLY');
    expect(await refusal('short', 'short.stl')).toContain('5 bytes are too few for an STL file');
  });
});

describe('STL', () => {
  const shape = cylinder(24, 3, 10);
  it('gives the same when fed in chunks of any size', () => {
    const bytes = writeStl(shape);
    const whole = new BinaryStlReader('a.stl', bytes.length);
    whole.push(bytes);
    const expected = whole.end();
    for (const size of [1, 7, 49, 50, 51, 84, 1000]) {
      const reader = new BinaryStlReader('a.stl', bytes.length);
      for (let p = 0; p < bytes.length; p += size) reader.push(bytes.subarray(p, p + size));
      expect(reader.end()).toEqual(expected);
    }
  });
  it('recognises a binary file whose header starts with "solid" by its size', async () => {
    const bytes = writeStl(shape);
    bytes.set(strToU8('solid made elsewhere'.padEnd(80)));
    expect((await readMesh(bytes, 'a.stl')).format).toBe('stl-binary');
  });
  it('refuses a false triangle count before allocating memory', async () => {
    const bytes = writeStl(shape);
    new DataView(bytes.buffer).setUint32(80, 0xfffffff0, true);
    expect(await refusal(bytes, 'a.stl')).toContain(
      `it claims 4294967280 triangles, ${bytes.length} bytes hold ${shape.triangles.length / 3}`,
    );
  });
  it('refuses a truncated binary file', async () => {
    expect(await refusal(writeStl(shape).slice(0, -10), 'a.stl')).toContain('The file is cut off');
  });
  it('refuses trailing bytes after the triangles', async () => {
    expect(await refusal(joinBytes(writeStl(shape), new Uint8Array(50)), 'a.stl')).toContain('it claims');
  });
  it.each([Number.NaN, Infinity])('refuses the vertex %d and names the triangle', async (value) => {
    const bytes = writeStl(shape);
    new DataView(bytes.buffer).setFloat32(84 + 50 * 4 + 12, value, true);
    expect(await refusal(bytes, 'a.stl')).toContain('triangle 5: the coordinates');
  });
  it('refuses more than five million triangles', async () => {
    const reader = (): void => {
      const header = new Uint8Array(84);
      new DataView(header.buffer).setUint32(80, 5_000_001, true);
      new BinaryStlReader('a.stl', 84 + 50 * 5_000_001).push(header);
    };
    expect(reader).toThrow(/5000001 triangles are more than the 5000000/);
  });
  it('reads several solids of an ASCII file as named objects', async () => {
    const bytes = joinBytes(
      asciiStl(box(1, 1, 1), 'feeder one'),
      asciiStl(tetrahedron(1), 'sac'),
      asciiStl(box(2, 1, 1), 'sac'),
    );
    expect((await readMesh(bytes, 'a.stl')).objects.map((o) => o.name)).toEqual([
      'feeder one',
      'sac',
      'sac 2',
    ]);
  });
  it('accepts capitals, tabs and carriage returns', async () => {
    const text = new TextDecoder()
      .decode(asciiStl(box(1, 1, 1)))
      .toUpperCase()
      .replaceAll('\n', '\r\n')
      .replaceAll('  ', '\t');
    expect((await readMesh(strToU8(text), 'a.stl')).objects[0].mesh.triangles).toHaveLength(36);
  });
  it.each([
    [
      'an unexpected word',
      'solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertx 0 1 0\n',
      'line 6: "vertx" where "vertex" is needed',
    ],
    [
      'an invalid number',
      'solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 1,5\n',
      'line 4: "1,5" in triangle 1 is not a number',
    ],
    [
      'a NaN vertex',
      'solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 nan\n',
      'line 4: "nan" in triangle 1 is not a number',
    ],
    [
      'a number that is too large',
      'solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 1e400\n',
      'line 4: the coordinates 0, 0, Infinity',
    ],
    [
      'a truncated file',
      'solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\n',
      'the file ends where "vertex" is needed',
    ],
    ['a missing endsolid', 'solid a\n', 'the file ends where "facet" or "endsolid" is needed'],
  ])('refuses %s in an ASCII file with the line', async (_, text, message) => {
    expect(await refusal(text, 'a.stl')).toContain(message);
  });
});

describe('numbers from bytes', () => {
  it.each([
    '0',
    '-0',
    '1',
    '-12.5',
    '+3',
    '1e3',
    '1.5E-3',
    '.5',
    '5.',
    '123456789012345678',
    '0.1',
    '2.2250738585072014e-308',
    '1e-400',
    '9007199254740993',
    '-0.000001234567890123456',
  ])('%s has the value that the language gives it', (text) => {
    expect(Object.is(parseDecimal(strToU8(text), 0, text.length), Number(text))).toBe(true);
  });
  it.each(['', '-', '.', 'e5', '1e', '1e+', '0x10', '1_000', 'Infinity', '1,5', '--1', '1.2.3'])(
    '"%s" is not a number',
    (text) => {
      expect(parseDecimal(strToU8(text), 0, text.length)).toBeNaN();
    },
  );
});

describe('OBJ', () => {
  it('splits by o, and reads negative indices, polygons, textures and continued lines', async () => {
    const text =
      'o a\nv 0 0 0\nv 4 0 0\nv 4 3 0\nv 0 3 0\nf -4/1/1 -3//2 \\\n -2 -1\no b\nv 0 0 1\nv 1 0 1\nv 0 1 1\nf 5 6 7 # end\n';
    const read = await readMesh(strToU8(text), 'x.obj');
    expect(read.objects.map((o) => [o.name, o.mesh.triangles.length / 3])).toEqual([
      ['a', 2],
      ['b', 1],
    ]);
    expect(measure(read.objects[0].mesh).areaMm2).toBe(12);
    expect(read.objects[1].mesh.positions).toHaveLength(9);
    expect(read.notes).toEqual(['1 faces with more than three corners were split into triangles.']);
  });
  it('triangulates a concave polygon within its outline', async () => {
    const text = 'v 0 0 0\nv 4 0 0\nv 4 4 0\nv 2 1 0\nv 0 4 0\nf 1 2 3 4 5\n';
    expect(measure((await readMesh(strToU8(text), 'x.obj')).objects[0].mesh).areaMm2).toBeCloseTo(16 - 6, 12);
  });
  it('splits by g where there are no objects', async () => {
    const text = 'v 0 0 0\nv 1 0 0\nv 0 1 0\ng one\nf 1 2 3\ng two\nf 3 2 1\n';
    expect((await readMesh(strToU8(text), 'x.obj')).objects.map((o) => o.name)).toEqual(['one', 'two']);
  });
  it.each([
    ['an index out of range', 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n', 'line 4: the face names vertex 4 of 3'],
    ['index 0', 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n', 'line 4: the face names vertex 0'],
    [
      'a negative index out of range',
      'v 0 0 0\nv 1 0 0\nv 0 1 0\nf -4 1 2\n',
      'line 4: the face names vertex -4',
    ],
    ['a word as a coordinate', 'v 0 0 zero\n', 'line 1: vertex 1: "zero" is not a number'],
    ['an infinite vertex', 'v 0 0 1e999\n', 'line 1: vertex 1: the coordinates'],
    ['an incomplete vertex', 'v 0 0\n', 'line 1: vertex 1: it has fewer than three'],
    ['a face with two corners', 'v 0 0 0\nv 1 0 0\nf 1 2\n', 'line 3: a face with fewer'],
    ['a curve', 'v 0 0 0\ncurv 0 1 1\n', 'line 2: "curv" is a free-form'],
    ['an unknown statement', 'v 0 0 0\nqq 1\n', 'line 2: "qq" is not a statement'],
  ])('refuses %s', async (_, text, message) => {
    expect(await refusal(text, 'x.obj')).toContain(message);
  });
});

describe('PLY', () => {
  const head = (n: number, f: number, list = 'list uchar int vertex_indices'): string =>
    `ply\nformat ascii 1.0\nelement vertex ${n}\nproperty float x\nproperty float y\nproperty float z\nelement face ${f}\nproperty ${list}\nend_header\n`;
  it('skips other elements and lists, and triangulates polygons', async () => {
    const text =
      'ply\r\nformat ascii 1.0\r\nelement camera 1\r\nproperty list uchar float pose\r\nelement vertex 4\r\nproperty double z\r\nproperty double x\r\nproperty double y\r\nelement face 1\r\nproperty uchar flags\r\nproperty list uint8 uint32 vertex_index\r\nend_header\r\n2 1 2\r\n0 0 0\r\n0 4 0\r\n0 4 3\r\n0 0 3\r\n1 4 0 1 2 3\r\n';
    const read = await readMesh(strToU8(text), 'x.ply');
    expect(measure(read.objects[0].mesh).areaMm2).toBe(12);
  });
  it.each([
    ['a count larger than the file', head(4_000_000, 1), 'it claims'],
    ['a header without an end', 'ply\nformat ascii 1.0\n', 'no line "end_header"'],
    [
      'a NaN vertex',
      `${head(3, 1)}0 0 nan\n1 0 0\n0 1 0\n3 0 1 2\n`,
      'line 10: vertex 1: "nan" is not a number',
    ],
    ['an index out of range', `${head(3, 1)}0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n`, 'triangle 1: it names vertex 3'],
    ['a negative index', `${head(3, 1)}0 0 0\n1 0 0\n0 1 0\n3 0 1 -1\n`, 'face 1: it names vertex -1'],
    ['a face with two corners', `${head(3, 1)}0 0 0\n1 0 0\n0 1 0\n2 0 1    \n`, 'face 1: it has 2 corners'],
    [
      'a polygon with an index out of range',
      `${head(3, 1)}0 0 0\n1 0 0\n0 1 0\n4 0 1 2 9\n`,
      'face 1: it names vertex 9',
    ],
    ['an unknown type', head(1, 1, 'list uchar long vertex_indices'), 'line 8:'],
    [
      'vertices without y and z',
      'ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n',
      'no property "y"',
    ],
    [
      'strips',
      'ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n',
      'triangle strips',
    ],
  ])('refuses %s', async (_, text, message) => {
    expect(await refusal(text, 'x.ply')).toContain(message);
  });
  it.each(['binary_little_endian', 'binary_big_endian'] as const)(
    'refuses a truncated %s file',
    async (encoding) => {
      expect(await refusal(ply(box(1, 1, 1), encoding).slice(0, -3), 'x.ply')).toContain(
        'face 12: the file ends here',
      );
    },
  );
});

describe('glTF', () => {
  const { json, data } = gltfParts(box(2, 3, 4));
  it('applies the transforms of all parent nodes, and flips a mirrored mesh back', async () => {
    const moved = {
      ...json,
      scenes: [{ nodes: [1] }],
      nodes: [
        { mesh: 0, name: 'inner', scale: [-1, 2, 1] },
        { children: [0], translation: [10, 0, 0], rotation: [0, 0, Math.SQRT1_2, Math.SQRT1_2] },
      ],
    };
    const { mesh } = (await readMesh(glb(moved, data), 'x.glb')).objects[0];
    expect(measure(mesh).volumeMm3).toBeCloseTo(48, 6);
    // x' = 10 - 2y, y' = -x
    expect(Math.min(...mesh.positions.filter((_, i) => i % 3 === 0))).toBeCloseTo(4, 6);
    expect(Math.min(...mesh.positions.filter((_, i) => i % 3 === 1))).toBeCloseTo(-2, 6);
  });
  it('makes one object for each node with a mesh', async () => {
    const two = {
      ...json,
      scenes: [{ nodes: [0, 1] }],
      nodes: [
        { mesh: 0, name: 'sac' },
        { mesh: 0, name: 'sac' },
      ],
    };
    expect((await readMesh(glb(two, data), 'x.glb')).objects.map((o) => o.name)).toEqual(['sac', 'sac 2']);
  });
  const changed = (change: (j: typeof json) => void): typeof json => {
    const copy = structuredClone(json);
    change(copy);
    return copy;
  };
  it.each([
    [
      'an external buffer',
      changed((j) => {
        j.buffers[0].uri = 'other.bin';
      }),
      'its data are in another file',
    ],
    [
      'a web address',
      changed((j) => {
        j.buffers[0].uri = 'https://example.org/a.bin';
      }),
      'its data are in another file',
    ],
    [
      'draco',
      changed((j) => {
        j.extensionsUsed = ['KHR_draco_mesh_compression'];
      }),
      'compressed (KHR_draco_mesh_compression)',
    ],
    [
      'meshopt',
      changed((j) => {
        j.extensionsUsed = ['EXT_meshopt_compression'];
      }),
      'compressed (EXT_meshopt_compression)',
    ],
    [
      'an unknown required extension',
      changed((j) => {
        j.extensionsRequired = ['X_y'];
      }),
      'requires the extension "X_y"',
    ],
    [
      'a view outside its buffer',
      changed((j) => {
        j.bufferViews[1].byteLength = 1e6;
      }),
      'bufferViews[1]: it lies outside',
    ],
    [
      'an accessor with a false count',
      changed((j) => {
        j.accessors[0].count = 1e6;
      }),
      'accessors[0]: it states 1000000',
    ],
    [
      'an accessor without data',
      changed((j) => {
        j.accessors[0].bufferView = undefined;
      }),
      'accessors[0]: it has no buffer view',
    ],
    [
      'a missing accessor',
      changed((j) => {
        j.meshes[0].primitives[0].indices = 9;
      }),
      'an accessor that is not there',
    ],
    [
      'a node that contains itself',
      changed((j) => {
        j.nodes = [{ mesh: 0, children: [1] }, { children: [0] }];
      }),
      'it contains itself',
    ],
    [
      'version 1',
      changed((j) => {
        j.asset = { version: '1.0' };
      }),
      'not glTF version 2',
    ],
    [
      'a matrix without numbers',
      changed((j) => {
        j.nodes[0].matrix = ['x'];
      }),
      'its matrix is not 16 numbers',
    ],
  ])('refuses %s', async (_, document, message) => {
    expect(await refusal(glb(document, data), 'x.glb')).toContain(message);
  });
  it('refuses an index beyond the vertices, a NaN vertex and broken JSON', async () => {
    const bad = data.slice();
    new DataView(bad.buffer).setUint32(96 + 8, 77, true);
    expect(await refusal(gltf(json, bad), 'x.gltf')).toContain('it names vertex 77');
    const nan = data.slice();
    new DataView(nan.buffer).setFloat32(12, Number.NaN, true);
    expect(await refusal(gltf(json, nan), 'x.gltf')).toContain('vertex 2: the coordinates');
    expect(await refusal('{"asset": ', 'x.gltf')).toContain('cannot be read as JSON');
    expect(await refusal(glb(json, data).slice(0, -4), 'x.glb')).toContain('it states');
  });
});

describe('3MF', () => {
  const cube = box(1, 1, 1);
  const object = (id: number, inner: string, more = ''): string =>
    `<object id="${id}" ${more}>${inner}</object>`;
  it('reads names, unit, items, and components with transforms', async () => {
    const bytes = threeMf(
      model(
        object(1, meshXml(cube), 'name="vessel"') +
          object(
            2,
            '<components><component objectid="1" transform="2 0 0 0 2 0 0 0 2 5 0 0"/><component objectid="1"/></components>',
            'name="pair"',
          ),
        '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 7"/><item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>',
        'unit="inch"',
      ),
    );
    const read = await readMesh(bytes, 'x.3mf');
    expect(read.unitMm).toBe(25.4);
    expect(read.objects.map((o) => o.name)).toEqual(['vessel', 'vessel 2', 'vessel 3']);
    expect(read.objects.map((o) => measure(o.mesh).volumeMm3)).toEqual([8, 1, 1]);
    expect([...read.objects[0].mesh.positions.slice(0, 3)]).toEqual([5, 0, 7]);
  });
  it('follows a component into another part of the package', async () => {
    const bytes = threeMf(
      `<model unit="millimeter" requiredextensions="p" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"><resources><object id="9"><components><component p:path="/3D/other.model" objectid="1"/></components></object></resources><build><item objectid="9"/></build></model>`,
      { '3D/other.model': strToU8(model(object(1, meshXml(cube), 'name="far"'), '')) },
    );
    expect((await readMesh(bytes, 'x.3mf')).objects.map((o) => o.name)).toEqual(['far']);
  });
  const one = (inner: string): string => model(object(1, inner), '<item objectid="1"/>');
  it.each([
    ['an entity bomb', '<!DOCTYPE m [<!ENTITY a "aaaa">]><model/>', 'document type'],
    ['truncated XML', one(meshXml(cube)).slice(0, 300), 'not well-formed XML'],
    ['an unknown unit', model('', '', 'unit="furlong"'), 'the unit "furlong"'],
    ['an index out of range', one(meshXml(cube).replace('v1="0"', 'v1="99"')), 'it names vertex 99'],
    ['a NaN vertex', one(meshXml(cube).replace('x="1"', 'x="nan"')), 'x is "nan" and not a number'],
    ['an infinite vertex', one(meshXml(cube).replace('x="1"', 'x="1e999"')), 'the coordinates Infinity'],
    ['a missing coordinate', one(meshXml(cube).replace('x="1"', '')), 'the attribute "x" is missing'],
    ['an item whose object is missing', model('', '<item objectid="4"/>'), 'names the object "4"'],
    [
      'an object that contains itself',
      model(object(1, '<components><component objectid="1"/></components>'), '<item objectid="1"/>'),
      'contains itself',
    ],
    ['no triangles', model(object(1, '<mesh/>'), '<item objectid="1"/>'), 'no triangles'],
    [
      'a required extension',
      model('', '', 'requiredextensions="b" xmlns:b="http://example.org/b"'),
      'requires the extension',
    ],
    [
      'a transform with eleven numbers',
      model(object(1, meshXml(cube)), '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>'),
      'not twelve numbers',
    ],
  ])('refuses %s', async (_, document, message) => {
    expect(await refusal(threeMf(document), 'x.3mf')).toContain(message);
  });
  it('refuses components that expand endlessly', async () => {
    const layers = Array.from({ length: 20 }, (_, i) =>
      object(i + 2, `<components>${`<component objectid="${i + 1}"/>`.repeat(10)}</components>`),
    );
    const bytes = threeMf(model(object(1, meshXml(cube)) + layers.join(''), '<item objectid="21"/>'));
    expect(await refusal(bytes, 'x.3mf')).toContain('unfold to more than 10000');
  });
  it('refuses a ZIP bomb by its stated size, and one that understates its size while unpacking', async () => {
    const bomb = threeMf(model(object(1, ' '.repeat(60_000_000)), ''));
    expect(bomb.length).toBeLessThan(100_000);
    expect(await refusal(bomb, 'x.3mf')).toContain('which no surface does');
    const view = new DataView(bomb.buffer);
    for (let p = 0; p + 46 < bomb.length; p++) {
      if (view.getUint32(p, true) === 0x02014b50 && view.getUint32(p + 24, true) > 1e7)
        view.setUint32(p + 24, 5000, true);
    }
    expect(await refusal(bomb, 'x.3mf')).toContain('it unpacks to more than the 5000 bytes it states');
  });
  it('refuses a ZIP without a model and a truncated one', async () => {
    expect(await refusal(zipSync({ 'letter.txt': strToU8('x') }), 'x.3mf')).toContain(
      'contains no 3MF model',
    );
    expect(await refusal(threeMf(one(meshXml(cube))).slice(0, -30), 'x.3mf')).toContain('cut off');
  });
});

describe('written files read back', () => {
  const shape = cylinder(32, 2.5, 12);
  it('STL keeps size and handedness, and never starts with "solid"', async () => {
    const bytes = writeStl(shape, 'solid body µ');
    expect(bytes.length).toBe(84 + 50 * (shape.triangles.length / 3));
    expect(new TextDecoder().decode(bytes.slice(0, 80)).trim()).toBe(
      'binary STL, unit mm, pavm-planner, solid body ?',
    );
    const { mesh } = weld((await readMesh(bytes, 'x.stl')).objects[0].mesh);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(measure(mesh).volumeMm3 / measure(shape).volumeMm3).toBeCloseTo(1, 6);
    const view = new DataView(bytes.buffer);
    // the first fan triangle of the bottom (z = 0) faces down
    const bottom = shape.triangles.length / 3 - 64;
    expect(view.getFloat32(84 + 50 * bottom + 8, true)).toBe(-1);
  });
  it('3MF keeps names, colours, unit and numbers, with the same bytes twice', async () => {
    const objects = [
      { name: 'A1 <feeder> & "co"', mesh: shape, colour: '#c02030' },
      { name: 'sac', mesh: together(tetrahedron(5)) },
    ];
    const bytes = write3mf(objects, { title: 'Lesion', description: 'two bodies' });
    expect(write3mf(objects, { title: 'Lesion', description: 'two bodies' })).toEqual(bytes);
    const read = await readMesh(bytes, 'x.3mf');
    expect(read.unitMm).toBe(1);
    expect(read.objects.map((o) => o.name)).toEqual(objects.map((o) => o.name));
    expect(read.objects[0].mesh.triangles).toEqual(shape.triangles);
    for (const [i, o] of read.objects.entries()) {
      expect(measure(o.mesh).volumeMm3 / measure(objects[i].mesh).volumeMm3).toBeCloseTo(1, 4);
    }
  });
});
