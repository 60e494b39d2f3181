import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { run as inspect } from '../../src/cli/commands/inspect.js';
import { run as print } from '../../src/cli/commands/print.js';
import { dicomFacts, encapsulatedModel } from '../../src/mesh/recognise/dicom-facts.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { type EncapsulatedStlInput, encapsulateStl, uidOfHash } from '../../src/print/encapsulate-stl.js';
import { capture } from '../cli/capture.js';
import { has } from './make.js';

const folder = mkdtempSync(join(tmpdir(), 'encapsulated-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const VALIDATOR = 'dciodvfy';
const DUMP = 'dcmdump';
const WRAP = 'stl2dcm';

/** A tetrahedron with legs of 10 mm: 1000 / 6 mm³. */
const stl = writeStl(
  {
    positions: Float64Array.of(0, 0, 0, 10, 0, 0, 0, 10, 0, 0, 0, 10),
    triangles: Uint32Array.of(0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3),
  },
  'tetrahedron',
);
const input: EncapsulatedStlInput = {
  stl,
  caseId: 'invented',
  title: 'Print model',
  scanDate: '2026-03-14',
  frame: 'LPS',
  description: 'Print model, scale 1:1',
  softwareVersion: '0.1.0',
};
const named = { patientId: 'ID 17', patientName: 'Mäder^Zoë' };

function fileOf(bytes: Uint8Array, name = 'model.dcm'): string {
  const file = join(folder, name);
  writeFileSync(file, bytes);
  return file;
}

/** What the validator says: errors and the name of the IOD it found; warnings are kept too. */
const validated = (file: string): { status: number | null; said: string[] } => {
  const ran = spawnSync(VALIDATOR, ['-new', file], { encoding: 'utf8' });
  return { status: ran.status, said: `${ran.stdout}${ran.stderr}`.split('\n').filter((l) => l !== '') };
};

/** The elements of a DICOM file as the other reader shows them: `GGGG,EEEE` to its line. */
const dumped = (file: string): Record<string, string> => {
  const said = execFileSync(DUMP, ['+U8', '-Un', '+L', file], { encoding: 'utf8' });
  return Object.fromEntries(
    [...said.matchAll(/^\s*\(([0-9a-f]{4},[0-9a-f]{4})\) \w\w (.*?)\s+#/gm)].map((m) => [m[1], m[2]]),
  );
};

describe('an Encapsulated STL object', () => {
  it('contains the STL to the byte, in mm, as M3D in explicit little endian', async () => {
    const bytes = await encapsulateStl(input);
    const facts = await dicomFacts(bytes, 'model.dcm');
    expect(facts).toMatchObject({
      sopClass: '1.2.840.10008.5.1.4.1.1.104.3',
      modality: 'M3D',
      transferSyntax: '1.2.840.10008.1.2.1',
    });
    const model = await encapsulatedModel(bytes, 'model.dcm');
    expect(model.unitMm).toBe(1);
    expect(Buffer.from(model.bytes).equals(stl)).toBe(true);
  });

  it('pads a document of odd length, and gives its true length as well', async () => {
    const odd = Uint8Array.from([...stl, 7]);
    const bytes = await encapsulateStl({ ...input, stl: odd });
    expect(bytes.length % 2).toBe(0);
    expect(Buffer.from((await encapsulatedModel(bytes, 'x')).bytes).equals(odd)).toBe(true);
  });

  it('is the same twice, even from a view into a shared buffer', async () => {
    const pool = new Uint8Array(stl.length + 13);
    pool.set(stl, 13);
    const again = await encapsulateStl({ ...input, stl: pool.subarray(13) });
    expect(Buffer.from(again).equals(await encapsulateStl(input))).toBe(true);
  });

  it('claims the scan’s frame of reference only on request, and only for LPS coordinates', async () => {
    const uid = '1.2.840.99999.1.20260314.7';
    const text = (bytes: Uint8Array): string => Buffer.from(bytes).toString('latin1');
    expect(text(await encapsulateStl(input))).not.toContain(uid);
    const claimed = await encapsulateStl({ ...input, frameOfReference: uid });
    expect(text(claimed)).toContain(uid);
    if (has(DUMP)) expect(dumped(fileOf(claimed, 'framed.dcm'))['0020,0052']).toBe(`[${uid}]`);
    if (has(VALIDATOR)) expect(validated(fileOf(claimed, 'framed.dcm')).status).toBe(0);
    for (const change of [
      { frame: 'RAS' as const },
      { frame: 'unknown' as const },
      { frameOfReference: '1.02.3' },
      { frameOfReference: `1.${'2'.repeat(64)}` },
      { frameOfReference: 'the scan' },
    ])
      await expect(encapsulateStl({ ...input, frameOfReference: uid, ...change })).rejects.toMatchObject({
        exitCode: 2,
      });
  });

  // The UUID and its UID as in the example in ITU-T X.667 and PS3.5 B.2 (from memory); here the version digit is 8, not 1.
  it('UIDs have the form of PS3.5 B.2', () => {
    const published = 329800735698586629295641978511506172918n;
    const uid = uidOfHash('f81d4fae7dec11d0a76500a0c91e6bf6');
    expect(uid).toBe(`2.25.${published + (7n << 76n)}`);
    for (const hash of ['0'.repeat(64), 'f'.repeat(64)]) {
      expect(uidOfHash(hash)).toMatch(/^2\.25\.[1-9]\d*$/);
      expect(uidOfHash(hash).length).toBeLessThanOrEqual(64);
    }
  });

  it.each<[string, Partial<EncapsulatedStlInput>]>([
    ['STL', { stl: Uint8Array.from(stl, (b, i) => (i === 100 ? b ^ 1 : b)) }],
    ['case', { caseId: 'other' }],
    ['scan date', { scanDate: undefined }],
    ['axes', { frame: 'RAS' }],
    ['patient', { identifiers: { patientId: '1' } }],
    ['version', { softwareVersion: '0.2.0' }],
  ])('another %s is another object, in another study and series', async (_, change) => {
    const uids = async (bytes: Uint8Array): Promise<string[]> => [
      ...new Set(
        Buffer.from(bytes)
          .toString('latin1')
          .match(/2\.25\.\d+/g),
      ),
    ];
    const [one, two] = [
      await uids(await encapsulateStl(input)),
      await uids(await encapsulateStl({ ...input, ...change })),
    ];
    // Instance, study, series, frame of reference, and the one of the writing program, which alone stays the same.
    expect(one).toHaveLength(5);
    expect(one.filter((uid) => two.includes(uid))).toHaveLength(1);
  });

  it.each<[string, Partial<EncapsulatedStlInput>, RegExp]>([
    ['a backslash in the id', { identifiers: { patientId: 'a\\b' } }, /patient id "a\\b".*backslash/],
    ['an empty id', { identifiers: { patientId: ' ' } }, /patient id.*empty/],
    ['an id of 65 characters', { identifiers: { patientId: 'x'.repeat(65) } }, /longer than 64/],
    ['a line break in the name', { identifiers: { patientName: 'A\nB' } }, /patient name "A\\u\{a\}B"/],
    ['a name with six components', { identifiers: { patientName: 'a^b^c^d^e^f' } }, /FAMILY\^GIVEN/],
    ['a name with four component groups', { identifiers: { patientName: 'a=b=c=d' } }, /FAMILY\^GIVEN/],
    ['a long name', { identifiers: { patientName: 'x'.repeat(65) } }, /FAMILY\^GIVEN/],
    ['a long description', { description: 'x'.repeat(60) }, /description.*longer than 64/],
  ])('refuses %s', async (_, change, message) => {
    await expect(encapsulateStl({ ...input, ...change })).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(message),
    });
  });

  it('keeps an id of 64 characters, beyond ASCII too', async () => {
    const patientId = 'ä'.repeat(64);
    const bytes = await encapsulateStl({ ...input, identifiers: { patientId } });
    expect(Buffer.from(bytes).includes(Buffer.from(patientId, 'utf8'))).toBe(true);
  });
});

// Outside check: dciodvfy of dicom3tools (Clunie) knows the IODs of PS3.3.
describe.skipIf(!has(VALIDATOR))('dciodvfy', () => {
  const DIRECTORY_ONLY = /needed to build DICOMDIR/;

  it.each<[string, EncapsulatedStlInput]>([
    ['without a name', input],
    ['with a name, without a date', { ...input, identifiers: named, scanDate: undefined }],
  ])(
    'finds no error in an object %s, and warns only of what a disc directory would require',
    async (_, given) => {
      const { status, said } = validated(fileOf(await encapsulateStl(given)));
      expect(said.filter((line) => !DIRECTORY_ONLY.test(line))).toEqual(['EncapsulatedSTL']);
      expect(status).toBe(0);
    },
  );

  it('would notice an object whose units are missing', async () => {
    const bytes = Buffer.from(await encapsulateStl(input));
    const at = bytes.indexOf(Buffer.from([0x40, 0, 0xea, 0x08]));
    expect(at).toBeGreaterThan(0);
    bytes[at + 2] = 0xeb;
    expect(validated(fileOf(bytes, 'broken.dcm')).said.join('\n')).toMatch(
      /Error.*MeasurementUnitsCodeSequence/,
    );
  });
});

// Outside check: dcmdump of dcmtk (OFFIS) reads it with a parser of its own.
describe.skipIf(!has(DUMP))('dcmdump', () => {
  it('reads empty patient values, the case as a comment, the scan date as acquisition', async () => {
    const elements = dumped(fileOf(await encapsulateStl(input)));
    for (const tag of ['0010,0010', '0010,0020', '0010,0030', '0010,0040', '0008,0020', '0008,0023'])
      expect([tag, elements[tag]]).toEqual([tag, '(no value available)']);
    expect(elements).toMatchObject({
      '0008,002a': '[20260314]',
      '0010,4000': '[Case invented]',
      '0008,0100': '[mm]',
      '0008,0102': '[UCUM]',
      '0042,0012': '[model/stl]',
      '0042,0015': String(stl.length),
      '0070,0081': '[Print model, scale 1:1, axes LPS]',
    });
    expect(elements['0042,0011'].split('\\').map((byte) => Number.parseInt(byte, 16))).toEqual([...stl]);
  });

  it('reads name and id where they were requested, in UTF-8', async () => {
    const elements = dumped(fileOf(await encapsulateStl({ ...input, identifiers: named })));
    expect(elements).toMatchObject({ '0010,0010': '[Mäder^Zoë]', '0010,0020': '[ID 17]' });
  });
});

// Outside check: an object that dcmtk's stl2dcm made.
describe.skipIf(!has(WRAP))('stl2dcm', () => {
  it.each([
    ['mm', 1000 / 6],
    ['cm', 1e6 / 6],
  ])('inspect reads an object that it made, in %s: volume %d mm³', async (unit, volumeMm3) => {
    const file = join(folder, `foreign-${unit}.dcm`);
    execFileSync(WRAP, ['-q', '+mu', 'UCUM', unit, unit, fileOf(stl, 'foreign.stl'), file]);
    const { code, out } = await capture((t) => inspect([file], { json: true }, t));
    expect(code).toBe(0);
    const json = JSON.parse(out);
    expect(json).toMatchObject({ container: 'DICOM encapsulated STL', unit: { stated: unit } });
    expect(json.objects[0].volume_ml).toBeCloseTo(volumeMm3 / 1000, 3);
    expect(Buffer.from((await encapsulatedModel(readFileSync(file), 'x')).bytes).equals(stl)).toBe(true);
  });
});

describe('pavm print --dicom', () => {
  const out = join(folder, 'print');
  const printed = capture((t) => print(['cases/heron'], { out, dicom: true, json: true }, t), {
    quiet: true,
  });

  it('writes model.dcm with the bytes of model.stl, which inspect reads back in mm', async () => {
    const { code, out: said } = await printed;
    expect(code).toBe(0);
    const { files } = JSON.parse(said);
    expect(files).toContain('model.dcm');
    const bytes = readFileSync(join(out, 'model.dcm'));
    const model = readFileSync(join(out, 'model.stl'));
    expect(Buffer.from((await encapsulatedModel(bytes, 'x')).bytes).equals(model)).toBe(true);
    const [inside, plain] = await Promise.all(
      ['model.dcm', 'model.stl'].map((name) => capture((t) => inspect([join(out, name)], { json: true }, t))),
    );
    const [a, b] = [JSON.parse(inside.out), JSON.parse(plain.out)];
    expect(a).toMatchObject({ container: 'DICOM encapsulated STL', unit: { stated: 'mm', used: 'mm' } });
    expect(a.objects[0].volume_ml).toBe(b.objects[0].volume_ml);
    expect(a.objects[0].volume_ml).toBeGreaterThan(1);
    expect(bytes.includes('Case heron')).toBe(true);
    // The case's own title is free text that may name a person, and is left out.
    const title = /^title: *['"]?([^'"\n]{8,}?)['"]?$/m.exec(
      readFileSync('cases/heron/case.yaml', 'utf8'),
    )![1];
    expect(bytes.includes(title)).toBe(false);
    expect(bytes.includes(folder)).toBe(false);
  }, 180_000);

  it.skipIf(!has(VALIDATOR))(
    'dciodvfy finds no error in it',
    async () => {
      await printed;
      const { status, said } = validated(join(out, 'model.dcm'));
      expect(said.filter((line) => line.startsWith('Error'))).toEqual([]);
      expect(said).toContain('EncapsulatedSTL');
      expect(status).toBe(0);
    },
    180_000,
  );

  it.each([{ patientId: '1' }, { patientName: 'A^B' }])('%o without --dicom is refused', async (options) => {
    await expect(capture((t) => print(['cases/heron'], options, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('--dicom'),
    });
  });
});
