import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { type InspectOptions, run } from '../../src/cli/commands/inspect.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { glb, gltfParts, joinBytes, meshXml, model, threeMf } from '../mesh/mesh-bytes.js';
import { box, cylinder, tetrahedron, tube } from '../mesh/shapes.js';
import { segOf } from '../volume/dicom-seg-bytes.js';
import { type LabelVolume, niftiOf } from '../volume/label-volume.js';
import { pavm } from './run-pavm.js';

vi.setConfig({ testTimeout: 180_000 });

const SEED = 20260510;
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'inspect-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

function file(name: string, bytes: Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
}

async function inspect(
  path: string,
  options: InspectOptions = {},
): Promise<{ out: string; err: string; code: number }> {
  let out = '';
  let err = '';
  const terminal = {
    out: (text: string) => {
      out += text;
    },
    err: (text: string) => {
      err += text;
    },
    colour: false,
    interactive: false,
    quiet: false,
  };
  const code = await run([path], options, terminal);
  return { out, err, code };
}
const json = async (path: string, options: InspectOptions = {}) =>
  JSON.parse((await inspect(path, { ...options, json: true })).out);

/** A DICOM file in explicit little endian (PS3.10) from tag, VR and value. */
function dicom(
  elements: [number, string, string | Uint8Array | number][],
  syntax = '1.2.840.10008.1.2.1',
): Uint8Array {
  const encode = ([tag, vr, value]: [number, string, string | Uint8Array | number]): Uint8Array => {
    let body: Uint8Array;
    if (typeof value === 'number') {
      body = new Uint8Array(vr === 'US' ? 2 : 4);
      const view = new DataView(body.buffer);
      if (vr === 'US') view.setUint16(0, value, true);
      else view.setUint32(0, value, true);
    } else {
      const raw = typeof value === 'string' ? new TextEncoder().encode(value) : value;
      body = new Uint8Array(raw.length + (raw.length % 2));
      if (raw.length % 2 && vr !== 'UI' && vr !== 'OB') body.fill(32);
      body.set(raw);
    }
    const long = vr === 'OB' || vr === 'SQ';
    const head = new Uint8Array(long ? 12 : 8);
    const view = new DataView(head.buffer);
    view.setUint16(0, tag >>> 16, true);
    view.setUint16(2, tag & 0xffff, true);
    head.set(new TextEncoder().encode(vr), 4);
    if (long) view.setUint32(8, body.length, true);
    else view.setUint16(6, body.length, true);
    return joinBytes(head, body);
  };
  const meta = encode([0x00020010, 'UI', syntax]);
  const preamble = new Uint8Array(132);
  preamble.set(new TextEncoder().encode('DICM'), 128);
  return joinBytes(preamble, encode([0x00020000, 'UL', meta.length]), meta, ...elements.map(encode));
}

const ct = (series: string, n: number): Uint8Array =>
  dicom([
    [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2'],
    [0x00080060, 'CS', 'CT'],
    [0x00100010, 'PN', 'Invented^Person'],
    [0x00100020, 'LO', 'ID-4711'],
    [0x00180050, 'DS', '0.8'],
    [0x0020000e, 'UI', series],
    [0x00200013, 'IS', String(n)],
    [0x00280010, 'US', 512],
    [0x00280011, 'US', 400],
    [0x00280030, 'DS', '0.7\\0.65'],
    [0x7fe00010, 'OB', new Uint8Array(1000)],
  ]);

const nifti = (): Uint8Array => {
  const bytes = new Uint8Array(352);
  const view = new DataView(bytes.buffer);
  view.setInt32(0, 348, true);
  for (const [i, n] of [3, 64, 32, 16, 1, 1, 1, 1].entries()) view.setInt16(40 + 2 * i, n, true);
  view.setInt16(70, 2, true);
  for (const [i, s] of [1, 0.5, 0.75, 1.25].entries()) view.setFloat32(76 + 4 * i, s, true);
  bytes[123] = 2;
  bytes.set(new TextEncoder().encode('Invented^Person'), 148); // descrip: free text, never shown
  bytes.set(new TextEncoder().encode('n+1\0'), 344);
  return bytes;
};

describe('pavm inspect on meshes', () => {
  it('describes a closed body with the values of its closed form', async () => {
    const report = await json(file('tetra.stl', writeStl(tetrahedron(20))));
    expect(report).toMatchObject({ format: 'pavm-inspect/1', kind: 'mesh', mesh_format: 'stl-binary' });
    expect(report.unit).toEqual({ used: 'mm', assumed: true, fits_anatomy: true });
    const [o] = report.objects;
    expect(o).toMatchObject({
      name: 'tetra',
      triangles: 4,
      vertices: 4,
      watertight: true,
      open_ends: [],
      non_manifold_edges: 0,
      degenerate_triangles: 0,
      findings: [],
    });
    expect(o.volume_ml).toBeCloseTo(8 / (6 * Math.SQRT2), 5); // s³/(6·sqrt 2)
    expect(o.area_cm2).toBeCloseTo(4 * Math.sqrt(3), 5); // sqrt 3·s²
    expect(o.components).toEqual([{ triangles: 4, cavity: false }]);
    expect(o.self_intersections).toEqual({ count: 0, at_least: false });
  });
  it('lists open ends by letter with place and diameter in the unit of the file, and closes them on request', async () => {
    const path = file('tube.stl', writeStl(tube(64, 0.3, 2)));
    const open = await json(path, { unit: 'cm' });
    const [o] = open.objects;
    expect(o.volume_ml).toBeUndefined();
    expect(o.volume_absent_because).toContain('2 open ends');
    expect(o.open_ends.map((e: { letter: string }) => e.letter)).toEqual(['A', 'B']);
    const top = o.open_ends.find((e: { at: number[] }) => e.at[2] > 1);
    expect(top.at).toEqual([0, 0, 2]);
    expect(top.at_mm).toEqual([0, 0, 20]);
    expect(top.direction).toEqual([0, 0, 1]);
    const area = (64 * 9 * Math.sin(Math.PI / 32)) / 2;
    expect(top.diameter_mm).toBeCloseTo(2 * Math.sqrt(area / Math.PI), 3);
    const capped = (await json(path, { unit: 'cm', capped: true })).objects[0];
    expect(capped.volume_ml).toBeCloseTo((area * 20) / 1000, 5);
    expect(capped.findings.map((f: { id: string }) => f.id)).toContain('end-capped');
    const text = (await inspect(path, { unit: 'cm' })).out;
    expect(text).toContain('unit                 cm, as asked for');
    expect(text).toMatch(/ {4}[AB] {3}at \(0\.000, 0\.000, 2\.000\) cm, diameter 6\.00 mm/);
  });
  it('leaves a non-planar end open and names it', async () => {
    // a tube 6 mm wide whose upper rim is 6 mm higher on one side and not planar
    const mesh = tube(32, 3, 20);
    const positions = mesh.positions.slice();
    for (let v = 0; v < positions.length; v += 3)
      if (positions[v + 2] > 19) positions[v + 2] += positions[v] ** 2 / 1.5;
    const path = file('bent.stl', writeStl({ ...mesh, positions }));
    const [bent] = (await json(path, { unit: 'mm', capped: true })).objects;
    const said = bent.findings.map(({ id, text }: { id: string; text: string }) => [id, text]);
    expect(said).toContainEqual(['end-left-open', expect.stringMatching(/^Open end [AB] was not closed: /)]);
    expect(said.map(([id]: string[]) => id)).toContain('end-capped');
    expect(bent.volume_ml).toBeUndefined();
  });
  it('says that a unit was assumed and which one is likely', async () => {
    const { out, code, err } = await inspect(file('metres.stl', writeStl(box(0.02, 0.02, 0.03))));
    expect(code).toBe(0);
    expect(err).toBe('');
    expect(out).toContain('not stated in the file; mm was taken');
    expect(out).toContain('the coordinates look like m');
  });
  it('uses the unit that a 3MF or GLB states, and lists every object', async () => {
    const { json: document, data } = gltfParts(box(0.02, 0.03, 0.04));
    expect((await json(file('a.glb', glb(document, data)))).unit).toMatchObject({
      stated: 'm',
      used: 'm',
      assumed: false,
    });
    const package3 = threeMf(
      model(
        `<object id="1" name="sac">${meshXml(box(20, 20, 20))}</object><object id="2" name="A1">${meshXml(cylinder(12, 3, 30))}</object>`,
        '<item objectid="1"/><item objectid="2"/>',
      ),
    );
    const report = await json(file('a.3mf', package3));
    expect(report.objects.map((o: { name: string; volume_ml: number }) => o.name)).toEqual(['sac', 'A1']);
    expect(report.objects[0].volume_ml).toBe(8);
  });
  it('prints the same bytes twice', async () => {
    const path = file('twice.stl', writeStl(tube(20, 3, 20)));
    expect((await inspect(path)).out).toBe((await inspect(path)).out);
  });
  it.each([
    [
      'a file of unknown format',
      new TextEncoder().encode('a letter'),
      'letter.txt',
      'it is not a mesh, DICOM file or label map',
    ],
    [
      'a case file',
      new TextEncoder().encode('# Invented\nformat: pavm-case/1\n'),
      'case.yaml',
      'it is not a mesh, DICOM file or label map',
    ],
    ['an empty file', new Uint8Array(0), 'empty.stl', 'the file is empty'],
    ['a truncated STL', writeStl(box(1, 1, 1)).slice(0, 200), 'cut.stl', 'it claims 12 triangles'],
  ])('refuses %s with exit code 3', async (_, bytes, name, message) => {
    const error = await inspect(file(name, bytes)).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(InputFailure);
    expect(error).toMatchObject({ exitCode: 3, message: expect.stringContaining(message) });
  });
  it('refuses a missing file (3), an unknown unit (2) and no argument (2)', async () => {
    await expect(inspect(join(folder, 'none.stl'))).rejects.toMatchObject({ exitCode: 3 });
    await expect(inspect(join(folder, 'none.stl'), { unit: 'furlong' })).rejects.toMatchObject({
      exitCode: 2,
    });
    await expect(
      run([], {}, { out() {}, err() {}, colour: false, interactive: false, quiet: false }),
    ).rejects.toMatchObject({ exitCode: 2 });
  });
});

describe('pavm inspect on DICOM', () => {
  it('counts the series in a folder and shows header data, never the patient', async () => {
    const path = join(folder, 'ct');
    mkdirSync(path);
    for (let i = 0; i < 3; i++) writeFileSync(join(path, `a${i}.dcm`), ct('1.2.3.1', i));
    writeFileSync(join(path, 'b.dcm'), ct('1.2.3.2', 1));
    writeFileSync(join(path, 'notes.txt'), 'nothing');
    const report = await json(path);
    expect(report).toMatchObject({ kind: 'dicom', series_count: 2, other_files: 1 });
    expect(report.series[0]).toMatchObject({
      kind: 'CT image',
      modality: 'CT',
      files: 3,
      rows: 512,
      columns: 400,
      slice_thickness_mm: 0.8,
      pixel_spacing_mm: [0.7, 0.65],
    });
    const { out } = await inspect(path);
    expect(out).toContain(
      'CT image, modality CT, 3 files, 512 rows x 400 columns, slice thickness 0.8 mm, in-plane 0.7 x 0.65 mm',
    );
    for (const text of [out, JSON.stringify(report)]) expect(text).not.toMatch(/Invented|4711|1\.2\.3\.1/);
  });
  it('opens an encapsulated STL in memory', async () => {
    const stl = writeStl(tetrahedron(20));
    const object = dicom([
      [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.104.3'],
      [0x00080060, 'CS', 'M3D'],
      [0x00100010, 'PN', 'Invented^Person'],
      [0x00420011, 'OB', stl],
      [0x00420012, 'LO', 'model/stl'],
      [0x00420015, 'UL', stl.length],
    ]);
    const report = await json(file('model.dcm', object));
    expect(report).toMatchObject({
      kind: 'mesh',
      container: 'DICOM encapsulated STL',
      mesh_format: 'stl-binary',
    });
    expect(report.objects[0].volume_ml).toBeCloseTo(8 / (6 * Math.SQRT2), 5);
    expect(JSON.stringify(report)).not.toContain('Invented');
  });
  it('refuses a damaged DICOM file', async () => {
    const damaged = new Uint8Array(200).fill(255);
    damaged.set(new TextEncoder().encode('DICM'), 128);
    await expect(inspect(file('bad.dcm', damaged))).rejects.toMatchObject({
      exitCode: 3,
      message: expect.stringContaining('damaged'),
    });
  });
  it('uses the unit that the object states in (0040,08EA)', async () => {
    const code = new TextEncoder().encode('um');
    const item = new Uint8Array(8 + 8 + code.length);
    const view = new DataView(item.buffer);
    view.setUint16(0, 0xfffe, true);
    view.setUint16(2, 0xe000, true);
    view.setUint32(4, 8 + code.length, true);
    view.setUint16(8, 0x0008, true);
    view.setUint16(10, 0x0100, true);
    item.set(new TextEncoder().encode('SH'), 12);
    view.setUint16(14, code.length, true);
    item.set(code, 16);
    const object = dicom([
      [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.104.3'],
      [0x004008ea, 'SQ', item],
      [0x00420011, 'OB', writeStl(tetrahedron(20_000))],
    ]);
    const report = await json(file('micro.dcm', object));
    expect(report.unit).toMatchObject({ stated: 'micrometre', used: 'micrometre', assumed: false });
    expect(report.objects[0].volume_ml).toBeCloseTo(8 / (6 * Math.SQRT2), 5);
  });
  it('reads the header of a file larger than the part it examines', async () => {
    const large = joinBytes(ct('1.2.3.9', 1), new Uint8Array(600_000));
    expect((await json(file('large.dcm', large))).series[0]).toMatchObject({
      rows: 512,
      slice_thickness_mm: 0.8,
    });
  });
  it(`survives damaged DICOM, NIfTI and NRRD files (seed ${SEED})`, async () => {
    const model3d = dicom([
      [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.104.3'],
      [0x00420011, 'OB', writeStl(tetrahedron(20))],
    ]);
    const nrrd = new TextEncoder().encode(
      'NRRD0004\ntype: float\ndimension: 3\nsizes: 2 2 2\nspacings: 1 1 1\n\n',
    );
    const valid = fc.constantFrom(
      ct('1.2.3.1', 1),
      model3d,
      nifti(),
      nrrd,
      new Uint8Array(gzipSync(nifti())),
    );
    const flips = fc.array(fc.tuple(fc.nat(1200), fc.integer({ min: 0, max: 255 })), { maxLength: 10 });
    await fc.assert(
      fc.asyncProperty(valid, flips, fc.integer({ min: 1, max: 1500 }), async (bytes, changes, length) => {
        const broken = bytes.slice(0, length);
        for (const [at, value] of changes) if (at < broken.length) broken[at] = value;
        const path = file('fuzz', broken);
        const started = performance.now();
        await inspect(path).catch((error: unknown) => {
          if (!(error instanceof InputFailure)) throw error;
          expect(error.problems).toHaveLength(1);
        });
        expect(performance.now() - started).toBeLessThan(3000);
      }),
      { seed: SEED, numRuns: 400 },
    );
  });
});

describe('pavm inspect on label maps', () => {
  it.each([
    ['NIfTI', 'a.nii', (b: Uint8Array) => b],
    ['NIfTI compressed with gzip', 'a.nii.gz', (b: Uint8Array) => new Uint8Array(gzipSync(b))],
  ])('describes the content of %s', async (_, name, pack) => {
    const path = file(name, pack(nifti()));
    const report = await json(path);
    expect(report).toMatchObject({
      kind: 'volume',
      volume_format: 'NIfTI-1',
      sizes: [64, 32, 16],
      spacing_mm: [0.5, 0.75, 1.25],
      data_type: 'uint8',
    });
    expect((await inspect(path)).out).not.toContain('Invented');
  });
  const map: LabelVolume = {
    sizes: [4, 3, 2],
    spacing: [0.5, 0.5, 2],
    origin: [0, 0, 0],
    labels: Uint8Array.from({ length: 24 }, (_, i) => (i < 6 ? 1 : i < 8 ? 300 % 256 : 0)),
  };
  it('lists the labels of a map with their volumes', async () => {
    const report = await json(file('labels.nii', niftiOf(map)));
    expect(report.labels).toEqual([
      { label: 1, voxels: 6, volume_ml: 0.003 },
      { label: 44, voxels: 2, volume_ml: 0.001 },
    ]);
    expect((await inspect(file('labels.nii', niftiOf(map)))).out).toContain(
      'label                1: 6 voxels',
    );
  });
  it('names the segments of a DICOM segmentation, as text that is safe to show', async () => {
    const seg = segOf(
      map,
      new Map([
        ['sac\u202e', 1],
        ['Ärterie', 44],
      ]),
    );
    const report = await json(file('labels.dcm', seg));
    expect(report.labels).toEqual([
      { label: 1, name: 'sac', voxels: 6, volume_ml: 0.003 },
      { label: 44, name: 'Ärterie', voxels: 2, volume_ml: 0.001 },
    ]);
    expect(JSON.stringify(report)).not.toContain('SECRET');
  });
  it('describes a damaged map from its header, and ends with a stop', async () => {
    const path = file('cut.nii', niftiOf(map).slice(0, 360));
    const report = await json(path);
    expect(report).toMatchObject({ kind: 'volume', sizes: [4, 3, 2] });
    expect(report.no_labels_because).toMatch(/claims 4 x 3 x 2 voxels/);
    const { code, out, err } = await inspect(path);
    expect(code).toBe(1);
    expect(out).toContain('labels               not read: ');
    expect(err).toMatch(/^stop \S*cut\.nii: .*claims 4 x 3 x 2 voxels/);
    // labels-unusable
    const segmentation = segOf(map, new Map([['sac', 1]]));
    const cut = await inspect(file('cut.dcm', segmentation.slice(0, -2)));
    expect([cut.code, cut.err]).toEqual([1, expect.stringMatching(/^stop \S*cut\.dcm: /)]);
  });
  it('says what NRRD holds', async () => {
    const text =
      'NRRD0004\n# made for a test\ntype: unsigned char\ndimension: 3\nspace: left-posterior-superior\nsizes: 10 20 30\nspace directions: (0.6,0,0) (0,0.8,0) (0,0,1.5)\nencoding: raw\n\n';
    const report = await json(
      file('a.nrrd', joinBytes(new TextEncoder().encode(text), new Uint8Array(6000))),
    );
    expect(report).toMatchObject({
      volume_format: 'NRRD',
      sizes: [10, 20, 30],
      spacing_mm: [0.6, 0.8, 1.5],
      data_type: 'unsigned char',
    });
  });
  it('refuses NRRD without sizes', async () => {
    await expect(
      inspect(file('b.nrrd', new TextEncoder().encode('NRRD0004\ntype: float\n\n'))),
    ).rejects.toMatchObject({ exitCode: 3 });
  });
});

describe('pavm inspect on patient identifiers', () => {
  const SECRET = /Invented|Person|4711|1961|Nowhere|Somebody/;
  /** Output on both streams, as JSON and as text; it must not show any value. */
  async function said(name: string, bytes: Uint8Array): Promise<Said> {
    const path = file(name, bytes);
    const machine = await inspect(path, { json: true });
    const text = await inspect(path);
    for (const one of [machine, text]) {
      expect(one.code).toBe(0);
      expect(`${one.out}${one.err}`).not.toMatch(SECRET);
    }
    const { identified, identified_by: by, free_text: freeText } = JSON.parse(machine.out);
    expect(text.out).toContain(`identified           ${identified}, by `);
    expect(text.err).toBe(machine.err);
    if (identified === 'yes')
      expect(text.err).toMatch(/^caution \S+: It carries what identifies a patient: /);
    else expect(text.err).toBe('');
    return { identified, ...(by && { by }), ...(freeText && { freeText }) };
  }
  interface Said {
    identified: string;
    by?: string[];
    freeText?: string[];
  }
  type Elements = Parameters<typeof dicom>[0];
  const image = (...more: Elements): Uint8Array =>
    dicom(
      [[0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2'], [0x00080060, 'CS', 'CT'], ...more].sort(
        (a, b) => (a[0] as number) - (b[0] as number),
      ) as Elements,
    );
  const EMPTY: Elements = [
    [0x00080050, 'SH', ''],
    [0x00080080, 'LO', ''],
    [0x00100010, 'PN', ''],
    [0x00100020, 'LO', ''],
    [0x00100030, 'DA', ''],
  ];

  it('names each identifying field of an image without its value', async () => {
    const full: Elements = [
      [0x00080050, 'SH', 'A4711'],
      [0x00080080, 'LO', 'Nowhere General'],
      [0x00080090, 'PN', 'Somebody^Else'],
      [0x00100010, 'PN', 'Invented^Person'],
      [0x00100020, 'LO', 'ID-4711'],
      [0x00100030, 'DA', '19610203'],
    ];
    const fields = [
      'accession number',
      'institution',
      'referring physician',
      "patient's name",
      'patient id',
      'birth date',
    ];
    expect(await said('full.dcm', image(...full))).toEqual({ identified: 'yes', by: [...fields].sort() });
    for (const [i, element] of full.entries())
      expect(await said('one.dcm', image(element))).toEqual({ identified: 'yes', by: [fields[i]] });
  });

  it('gives no warning for a de-identified image', async () => {
    expect(await said('empty.dcm', image(...EMPTY))).toEqual({ identified: 'no' });
    expect(
      await said('anonymous.dcm', image([0x00100010, 'PN', 'ANONYMOUS^PATIENT'], [0x00100020, 'LO', '0000'])),
    ).toEqual({
      identified: 'no',
    });
    // (0012,0062): name and id are then pseudonyms, a birth date is not
    const removed: Elements[number] = [0x00120062, 'CS', 'YES'];
    const pseudonyms: Elements = [
      [0x00100010, 'PN', 'STUDY-4711'],
      [0x00100020, 'LO', 'STUDY-4711'],
    ];
    expect(await said('pseudonym.dcm', image(removed, ...pseudonyms))).toEqual({ identified: 'no' });
    expect((await said('pseudonym.dcm', image(...pseudonyms))).identified).toBe('yes');
    expect(await said('birth.dcm', image(removed, [0x00100030, 'DA', '19610203']))).toEqual({
      identified: 'yes',
      by: ['birth date'],
    });
  });

  it('finds a name in a nested item', async () => {
    const encoder = new TextEncoder();
    const name = encoder.encode('Invented^Person ');
    const item = new Uint8Array(8 + 8 + name.length);
    const view = new DataView(item.buffer);
    view.setUint16(0, 0xfffe, true);
    view.setUint16(2, 0xe000, true);
    view.setUint32(4, 8 + name.length, true);
    view.setUint16(8, 0x0010, true);
    view.setUint16(10, 0x0010, true);
    item.set(encoder.encode('PN'), 12);
    view.setUint16(14, name.length, true);
    item.set(name, 16);
    expect(await said('nested.dcm', image(...EMPTY, [0x00081140, 'SQ', item]))).toEqual({
      identified: 'yes',
      by: ["patient's name"],
    });
  });

  it('checks series, segmentations, encapsulated models and label maps alike', async () => {
    const series = join(folder, 'identified-series');
    mkdirSync(series);
    writeFileSync(join(series, '1.dcm'), image([0x0020000e, 'UI', '1.2.3.1']));
    writeFileSync(join(series, '2.dcm'), image([0x0020000e, 'UI', '1.2.3.2'], [0x00100020, 'LO', 'ID-4711']));
    const { stdout, stderr } = pavm(['inspect', series, '--json']);
    const report = JSON.parse(stdout);
    expect(report).toMatchObject({ identified: 'yes', identified_by: ['patient id'] });
    expect(report.series.map((one: { identified: string }) => one.identified)).toEqual(['no', 'yes']);
    expect(`${stdout}${stderr}`).not.toMatch(SECRET);

    const map: LabelVolume = {
      sizes: [4, 3, 2],
      spacing: [0.5, 0.5, 2],
      origin: [0, 0, 0],
      labels: Uint8Array.from({ length: 24 }, (_, i) => (i < 6 ? 1 : 0)),
    };
    expect(await said('seg.dcm', segOf(map, new Map([['Invented^Person sac', 1]])))).toEqual({
      identified: 'yes',
      by: ["patient's name", 'segment name'],
    });
    const model3d = (...more: Elements): Uint8Array =>
      dicom([
        [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.104.3'],
        ...more,
        [0x00420011, 'OB', writeStl(tetrahedron(20))],
      ]);
    expect((await said('model.dcm', model3d([0x00100010, 'PN', 'Invented^Person']))).by).toEqual([
      "patient's name",
    ]);
    expect(await said('model.dcm', model3d([0x00100010, 'PN', '']))).toEqual({ identified: 'no' });
    const named = niftiOf(map);
    named.set(new TextEncoder().encode('Invented^Person'), 148);
    expect(await said('named.nii', named)).toEqual({ identified: 'yes', by: ['NIfTI descrip'] });
    expect((await said('plain.nii', niftiOf(map))).identified).toBe('no');
    const nrrd = (line: string): Uint8Array =>
      new TextEncoder().encode(
        `NRRD0004\n${line}\ntype: uchar\ndimension: 3\nsizes: 1 1 1\nspace: left-posterior-superior\nspace directions: (1,0,0) (0,1,0) (0,0,1)\nencoding: raw\n\n\u0000`,
      );
    expect(await said('a.nrrd', nrrd('PatientID:=ID-4711'))).toEqual({
      identified: 'yes',
      by: ['NRRD key/value pairs'],
    });
    expect(await said('b.nrrd', nrrd('# made for a test'))).toEqual({
      identified: 'no',
      freeText: ['NRRD comments'],
    });
  });

  it('checks the text of a mesh file', async () => {
    const mesh = tetrahedron(20);
    expect(await said('own.stl', writeStl(mesh))).toEqual({ identified: 'no' });
    expect(await said('named.stl', writeStl(mesh, 'Patient: I. Invented'))).toEqual({
      identified: 'yes',
      by: ['STL header'],
    });
    const solid = (name: string): Uint8Array => {
      const corner = (v: number): string => [0, 1, 2].map((k) => mesh.positions[3 * v + k]).join(' ');
      const facets = [0, 3, 6, 9].map(
        (t) =>
          `facet normal 0 0 0 outer loop ${[0, 1, 2].map((k) => `vertex ${corner(mesh.triangles[t + k])}`).join(' ')} endloop endfacet`,
      );
      return new TextEncoder().encode(`solid ${name}\n${facets.join('\n')}\nendsolid\n`);
    };
    expect(await said('ascii.stl', solid('Invented^Person'))).toEqual({
      identified: 'yes',
      by: ['object name'],
    });
    expect(await said('ascii.stl', solid('sac'))).toEqual({ identified: 'no' });
    const lines = [0, 1, 2, 3].map((v) => `v ${[0, 1, 2].map((k) => mesh.positions[3 * v + k]).join(' ')}`);
    const faces = [0, 3, 6, 9].map((t) => `f ${[0, 1, 2].map((k) => mesh.triangles[t + k] + 1).join(' ')}`);
    const obj = (comment: string): Uint8Array =>
      new TextEncoder().encode([`# ${comment}`, ...lines, ...faces, ''].join('\n'));
    expect(await said('a.obj', obj('date of birth 3.2.1961'))).toEqual({
      identified: 'yes',
      by: ['OBJ comments'],
    });
    expect(await said('b.obj', obj('in the coordinates of the patient'))).toEqual({
      identified: 'no',
      freeText: ['OBJ comments'],
    });
    const metadata = '<metadata name="PatientName">Invented Person</metadata>';
    const package3 = threeMf(
      model(`<object id="1" name="sac">${meshXml(mesh)}</object>`, '<item objectid="1"/>').replace(
        '<resources',
        `${metadata}<resources`,
      ),
    );
    expect(await said('a.3mf', package3)).toEqual({ identified: 'yes', by: ['3MF metadata'] });
  });
});
