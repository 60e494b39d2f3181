import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cross, normalize, type Vec3 } from '../../../src/foundation/vector.js';
import { loadRules } from '../../../src/rules/load-rules.js';
import { valueAt, volumeHash } from '../../../src/volume/ct/grey-volume.js';
import { DamagedSlices, pickSeries, readFolder, readVoxels } from '../../../src/volume/ct/read-series.js';
import { dcmtk, hasDcmtk } from './dcmtk.js';
import { jpeg2000Of, literalRle } from './compressed.js';
import {
  type CtStack,
  ctFiles,
  dicomFile,
  encapsulated,
  headerOf,
  inMemory,
  joined,
  multiFrame,
  pixelsOf,
  placeOf,
  SECRETS,
  STACK,
} from './ct-bytes.js';

const rules = loadRules();
const folderOf = (files: readonly Uint8Array[]) => readFolder(inMemory(files), rules);

/** The only series of the files, with its voxels. */
async function read(files: readonly Uint8Array[]) {
  const picked = pickSeries(await folderOf(files));
  if (Array.isArray(picked)) throw new Error(picked.join('\n'));
  if (picked.problems.length > 0) throw new Error(picked.problems.join('\n'));
  return { series: picked, volume: await readVoxels(picked, inMemory(files)) };
}

/** What stops a series from being used. */
async function problemsOf(files: readonly Uint8Array[], number?: number): Promise<string> {
  const picked = pickSeries(await folderOf(files), number);
  return (Array.isArray(picked) ? picked : picked.problems).join('\n');
}

const findingsOf = async (files: readonly Uint8Array[]) => {
  const picked = pickSeries(await folderOf(files));
  if (Array.isArray(picked)) throw new Error(picked.join('\n'));
  return picked.findings;
};

function shuffled<T>(list: readonly T[]): T[] {
  return list.map((_, i) => list[(i * 5 + 3) % list.length]);
}

/** The largest difference between the volume at the position of each voxel and the value written there. */
function worst(volume: Parameters<typeof valueAt>[0], stack: CtStack): number {
  let off = 0;
  // where slices are shifted sideways, the voxels at the edge of one have no neighbour in the next
  const rim = stack.step ? 1 : 0;
  for (let k = 0; k < stack.slices; k++)
    for (let j = rim; j < stack.rows - rim; j++)
      for (let i = 0; i < stack.columns; i++) {
        const at = placeOf(stack, i, j, k);
        // slightly inwards, so that rounding does not put a voxel at the edge outside
        const middle = placeOf(stack, (stack.columns - 1) / 2, (stack.rows - 1) / 2, (stack.slices - 1) / 2);
        const p = at.map((x, d) => x + 1e-5 * (middle[d] - x)) as Vec3;
        off = Math.max(off, Math.abs(valueAt(volume, ...p) - stack.value(i, j, k, at)));
      }
  return off;
}

const tilted = normalize([0.9, 0.3, 0.2]);
const aside = normalize(cross(normalize([0.1, -0.2, 1]), tilted));
const STACKS: Record<string, Partial<CtStack>> = {
  'head first, supine': {},
  'feet first': { along: [-1, 0, 0], down: [0, 1, 0], origin: [40, -20, 100] },
  prone: { along: [-1, 0, 0], down: [0, -1, 0], origin: [40, 20, 100] },
  coronal: { along: [1, 0, 0], down: [0, 0, -1] },
  oblique: { along: tilted, down: aside },
  'gantry tilt': { step: [0, 0.3, 1.25] },
};

describe('a series of single slices', () => {
  it.each(Object.entries(STACKS))(
    '%s: every voxel in its position, whatever the order of the files',
    async (_, changes) => {
      const stack = { ...STACK, ...changes };
      const files = ctFiles(changes);
      const { series, volume } = await read(shuffled(files));
      expect(worst(volume, stack)).toBeLessThan(0.05);
      const { spacingMm } = series.stackFacts!;
      expect(spacingMm[0]).toBeCloseTo(0.7, 6);
      expect(spacingMm[1]).toBeCloseTo(0.8, 6);
      expect(spacingMm[2]).toBeCloseTo(1.25, 4);
      expect(volumeHash(volume)).toBe(volumeHash((await read(files)).volume));
    },
  );

  it('knows what the header says, and nothing about the patient', async () => {
    const { series } = await read(ctFiles());
    expect(series.facts).toEqual({
      seriesNumber: 4,
      date: '2026-03-14',
      kernel: 'Bv40',
      kilovolts: 100,
      contrast: 'yes',
      patientPosition: 'HFS',
      isLossy: false,
      hasOtherUnits: false,
    });
    expect(series.identity.by).toContain("patient's name");
    expect(series.stackFacts).toMatchObject({ thicknessMm: 1.25, gaps: [], tiltDeg: 0 });
    const { slices: _, ...said } = series;
    for (const secret of SECRETS) expect(JSON.stringify(said)).not.toContain(secret);
  });

  it('reads signed pixels, 16 bits, fractional slopes and bits above the stored ones', async () => {
    const signed = { isSigned: true, bitsStored: 16, intercept: 0 };
    expect(worst((await read(ctFiles(signed))).volume, STACK)).toBeLessThan(0.05);
    // Hounsfield values are kept as whole numbers
    expect(worst((await read(ctFiles({ slope: 0.5 }))).volume, STACK)).toBeLessThan(0.5);
    const dirty = Array.from({ length: STACK.slices }, (_, k) => {
      const pixels = pixelsOf(STACK, k).map((byte, i) => (i % 2 === 1 ? byte | 0x70 : byte));
      return dicomFile([...headerOf(STACK, k), [0x7fe00010, 'OW', pixels]]);
    });
    expect(volumeHash((await read(dirty)).volume)).toBe(volumeHash((await read(ctFiles())).volume));
    const twelve = { isSigned: true, intercept: 0 };
    expect(worst((await read(ctFiles(twelve))).volume, STACK)).toBeLessThan(0.05);
  });

  it('interpolates between voxels, and returns nothing outside', async () => {
    const { volume } = await read(ctFiles());
    const half = placeOf(STACK, 3.5, 4.25, 2.5);
    expect(valueAt(volume, ...half)).toBeCloseTo(STACK.value(3.5, 4.25, 2.5, half), 6);
    for (const [i, j, k] of [
      [-0.1, 2, 2],
      [2, 9.1, 2],
      [2, 2, 7.1],
    ])
      expect(valueAt(volume, ...placeOf(STACK, i, j, k))).toBeNaN();
  });
});

describe('one object of many frames', () => {
  it('gives the same volume as single slices, in any order of its frames', async () => {
    const single = volumeHash((await read(ctFiles())).volume);
    expect(volumeHash((await read([multiFrame()])).volume)).toBe(single);
    const mixed = await read([multiFrame({}, [3, 1, 0, 7, 2, 6, 5, 4])]);
    expect(volumeHash(mixed.volume)).toBe(single);
    expect(mixed.series.facts).toMatchObject({ kernel: 'Bv40', date: '2026-03-14' });
  });
  it('refuses a frame that does not give its position', async () => {
    const plain = dicomFile([
      ...headerOf(STACK, 0),
      [0x00280008, 'IS', '2'],
      [0x7fe00010, 'OW', joined(pixelsOf(STACK, 0), pixelsOf(STACK, 1))],
    ]);
    expect(await problemsOf([plain])).toContain('frame 1 does not give its position');
  });
});

if (!hasDcmtk)
  process.stderr.write('skipped: dcmtk is not installed, no compressed series of another writer are read\n');

describe('compressed pixels', () => {
  it('RLE with literal runs only, and with a segment that is too short', async () => {
    const frames = literalRle(STACK);
    const files = frames.map((f, k) =>
      encapsulated(dicomFile(headerOf(STACK, k), '1.2.840.10008.1.2.5'), [f]),
    );
    expect(volumeHash((await read(files)).volume)).toBe(volumeHash((await read(ctFiles())).volume));
    files[2] = encapsulated(dicomFile(headerOf(STACK, 2), '1.2.840.10008.1.2.5'), [
      frames[2].subarray(0, 200),
    ]);
    await expect(read(files)).rejects.toBeInstanceOf(DamagedSlices);
  });

  let folder: string;
  let native: string;
  const noisy: Partial<CtStack> = {
    columns: 40,
    rows: 36,
    slices: 3,
    value: (i, j, k) => -800 + ((i * 7919 + j * 104729 + k * 1299709) % 97) + (i > 20 ? 1100 : 0),
  };
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'ct-'));
    native = volumeHash((await read(ctFiles(noisy))).volume);
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  const converted = (program: string, args: string[], changes = noisy): Uint8Array[] =>
    ctFiles(changes).map((bytes, k) => {
      const [from, to] = [join(folder, `${k}.dcm`), join(folder, `${k}-out.dcm`)];
      writeFileSync(from, bytes);
      dcmtk(program, [...args, from, to]);
      return readFileSync(to);
    });

  it.skipIf(!hasDcmtk).each([
    ['implicit', 'dcmconv', ['+ti']],
    ['big endian', 'dcmconv', ['+tb']],
    ['deflated', 'dcmconv', ['+td']],
    ['RLE', 'dcmcrle', []],
    ['JPEG lossless, any predictor', 'dcmcjpeg', ['+el', '+sv', '6']],
    ['JPEG lossless, first-order prediction', 'dcmcjpeg', ['+e1']],
    ['JPEG-LS', 'dcmcjpls', ['+el']],
  ])('%s by dcmtk: same values, same hash', async (_, program, args) => {
    const { series, volume } = await read(converted(program, args));
    expect(volumeHash(volume)).toBe(native);
    expect(series.findings).toEqual([]);
  });

  it.skipIf(!hasDcmtk)('signed pixels in JPEG lossless, JPEG-LS and RLE', async () => {
    const signed = { ...noisy, isSigned: true, bitsStored: 16, intercept: 0 };
    for (const [program, args] of [
      ['dcmcjpeg', ['+e1']],
      ['dcmcjpls', ['+el']],
      ['dcmcrle', []],
    ] as const)
      expect(volumeHash((await read(converted(program, [...args], signed))).volume)).toBe(native);
  });

  it.skipIf(!hasDcmtk)('lossy JPEG is refused, near-lossless JPEG-LS is a caution', async () => {
    expect(await problemsOf(converted('dcmcjpeg', ['+ee']))).toMatch(
      /JPEG, which loses what is measured \(file 1 of 3/,
    );
    const near = await read(converted('dcmcjpls', ['+en', '+md', '2']));
    expect(near.series.findings.map(({ id }) => id)).toEqual(['scan-lossy']);
  });

  it.skipIf(!hasDcmtk)('a truncated compressed frame is an error at its place', async () => {
    for (const [program, args] of [
      ['dcmcrle', []],
      ['dcmcjpeg', ['+e1']],
      ['dcmcjpls', ['+el']],
    ] as const) {
      const files = converted(program, [...args]);
      const whole = files[1];
      // some bytes missing from the stream, the rest of the file kept valid
      const at = whole.length - 8;
      const length = new DataView(whole.buffer, whole.byteOffset);
      let item = at;
      while (
        !(
          whole[item] === 0xfe &&
          whole[item + 1] === 0xff &&
          whole[item + 2] === 0x00 &&
          whole[item + 3] === 0xe0
        )
      )
        item--;
      const cut = joined(whole.subarray(0, at - 200), whole.subarray(at));
      new DataView(cut.buffer).setUint32(item + 4, length.getUint32(item + 4, true) - 200, true);
      files[1] = cut;
      const folderRead = pickSeries(await folderOf(files));
      if (Array.isArray(folderRead)) throw new Error('no series');
      const failure = await readVoxels(folderRead, inMemory(files)).catch((error) => error);
      expect(failure).toBeInstanceOf(DamagedSlices);
      expect(failure.problems.join()).toContain('damaged or cut off (at 101.25 mm along the stack)');
    }
  });

  it('JPEG 2000, single slices and one object of many frames', async () => {
    const stack = { ...STACK, ...noisy };
    const frames = await jpeg2000Of(stack);
    const files = frames.map((f, k) =>
      encapsulated(dicomFile(headerOf(stack, k), '1.2.840.10008.1.2.4.90'), [f]),
    );
    expect(volumeHash((await read(files)).volume)).toBe(native);
    const enhanced = multiFrame(noisy);
    const text = Buffer.from(enhanced).toString('latin1');
    const head = Uint8Array.from(enhanced.subarray(0, text.indexOf('\xe0\x7f\x10\x00OW')));
    const uid = Buffer.from('1.2.840.10008.1.2.1\0');
    const at = Buffer.from(head).indexOf(uid);
    const other = Buffer.from('1.2.840.10008.1.2.4.90');
    const packed = joined(
      head.subarray(0, at - 2),
      Uint8Array.of(other.length, 0),
      other,
      head.subarray(at + uid.length),
    );
    // the length of the meta group grew by two bytes
    new DataView(packed.buffer).setUint32(140, new DataView(head.buffer).getUint32(140, true) + 2, true);
    const multi = encapsulated(packed, frames);
    expect(volumeHash((await read([multi])).volume)).toBe(native);
    const cut = encapsulated(dicomFile(headerOf(stack, 1), '1.2.840.10008.1.2.4.90'), [
      frames[1].subarray(0, 900),
    ]);
    const series = pickSeries(await folderOf([files[0], cut, files[2]]));
    if (Array.isArray(series)) throw new Error('no series');
    await expect(readVoxels(series, inMemory([files[0], cut, files[2]]))).rejects.toBeInstanceOf(
      DamagedSlices,
    );
  });

  it.skipIf(!hasDcmtk)('values, positions and spacing as read by dcmtk', () => {
    const files = ctFiles(noisy);
    const stack = { ...STACK, ...noisy };
    files.forEach((bytes, k) => {
      const path = join(folder, `own-${k}.dcm`);
      writeFileSync(path, bytes);
      const dump = dcmtk('dcmdump', ['+P', '0020,0032', '+P', '0028,0030', path]).toString('latin1');
      const [position, spacing] = [...dump.matchAll(/\[([^\]]+)\]/g)].map((m) =>
        m[1].trim().split('\\').map(Number),
      );
      expect(position).toEqual(placeOf(stack, 0, 0, k).map((x) => Number(x.toFixed(6))));
      expect(spacing).toEqual([0.8, 0.7]);
      // Every value of the modality, windowed so that grey 0 to 65535 is -1024 to 3071 HU
      const pgm = dcmtk('dcmj2pnm', ['+Ww', '1023.5', '4095', '--write-16-bit-pnm', path]);
      const numbers = pgm.toString('latin1').split(/\s+/).slice(4).filter(Boolean).map(Number);
      expect(numbers.length, 'P2 of dcmj2pnm').toBe(stack.columns * stack.rows);
      numbers.forEach((grey, n) => {
        const hu = -1024 + (grey / 65535) * 4095;
        const [i, j] = [n % stack.columns, Math.floor(n / stack.columns)];
        expect(Math.abs(hu - stack.value(i, j, k, [0, 0, 0]))).toBeLessThan(1);
      });
    });
    expect(readdirSync(folder).length).toBeGreaterThan(3);
  });
});

describe('a stack that is not in order', () => {
  const without = (...missing: number[]) => ctFiles({ slices: 20 }).filter((_, k) => !missing.includes(k));
  it('missing slices are a stop with their places, and nothing is read there', async () => {
    const [found] = await findingsOf(without(5, 6, 12));
    expect(found).toMatchObject({ id: 'scan-slices-missing', level: 'stop' });
    expect(found.text).toContain(
      'about 3: after z = 105.00, 113.75 mm the next is up to 3.75 mm away, where 1.25 mm is usual',
    );
    const { volume, series } = await read(without(5, 6, 12));
    expect(series.stackFacts!.gaps).toEqual([
      { afterMm: 105, stepMm: 3.75 },
      { afterMm: 113.75, stepMm: 2.5 },
    ]);
    expect(valueAt(volume, -38, -18, 106)).toBeNaN();
    expect(valueAt(volume, -38, -18, 104)).not.toBeNaN();
  });
  it('duplicate slices are refused with their places', async () => {
    const files = ctFiles();
    expect(await problemsOf([...files, files[3]])).toBe(
      'One place contains more than one slice: z = 103.75 mm. Two phases or copies are in one series: give a folder that contains each slice once.',
    );
    expect(await problemsOf([...files, ...ctFiles()])).toContain(
      '8 places contain more than one slice: z = 100.00, 101.25',
    );
  });
  const placed = (heights: number[], extra: Partial<CtStack> = {}) =>
    ctFiles({
      slices: heights.length,
      ofSlice: (k) => [[0x00200032, 'DS', `-40.5\\-20.25\\${heights[k]}`]],
      ...extra,
    });
  it('uneven steps: rounding is silent, up to a tenth a caution, above that a stop; voxels keep their positions', async () => {
    expect(await findingsOf(placed([0, 1.249, 2.5, 3.75, 5.001]))).toEqual([]);
    expect(await findingsOf(placed([0, 1.25, 2.55, 3.8, 5.05]))).toMatchObject([
      { id: 'scan-slices-uneven', level: 'caution' },
    ]);
    const uneven = placed([0, 1.25, 2.5, 4.1, 5.35]);
    expect(await findingsOf(uneven)).toMatchObject([{ id: 'scan-slices-uneven', level: 'stop' }]);
    const { volume } = await read(uneven);
    expect(valueAt(volume, -40.5 + 1.4, -20.25 + 0.8, 4.1)).toBeCloseTo(STACK.value(2, 1, 3, [0, 0, 0]), 6);
  });
  it('a tilted gantry is a caution with its angle; slices off the line are a stop', async () => {
    const found = await findingsOf(ctFiles({ step: [0, 0.3, 1.25] }));
    expect(found).toMatchObject([{ id: 'scan-tilted', level: 'caution' }]);
    expect(found[0].text).toContain('13.5 degrees'); // atan(0.3 / 1.25)
    const jumped = ctFiles({
      ofSlice: (k) => (k === 4 ? [[0x00200032, 'DS', '-38.5\\-20.25\\105']] : []),
    });
    const [stop] = await findingsOf(jumped);
    expect(stop).toMatchObject({ id: 'scan-slices-shifted', level: 'stop' });
    expect(stop.text).toContain('105.00');
  });
  it('varying thickness, gaps between slices, mixed rescale, lossy pixels, other units, no contrast', async () => {
    const ids = async (changes: Partial<CtStack>) => (await findingsOf(ctFiles(changes))).map(({ id }) => id);
    expect(await ids({ ofSlice: (k) => (k > 4 ? [[0x00180050, 'DS', '2.5']] : []) })).toEqual([
      'scan-thickness-varies',
    ]);
    expect(await ids({ thickness: 1 })).toEqual(['scan-slices-apart']);
    expect(await ids({ ofSlice: (k) => (k === 2 ? [[0x00281052, 'DS', '-1000']] : []) })).toEqual([
      'scan-rescale-mixed',
    ]);
    expect(await ids({ elements: [[0x00282110, 'CS', '01']] })).toEqual(['scan-lossy']);
    expect(await ids({ elements: [[0x00281054, 'LO', 'US']] })).toEqual(['scan-other-units']);
    expect(await ids({ elements: [[0x00180010, 'LO', 'NONE']] })).toEqual(['scan-without-contrast']);
  });
  it('two orientations, sizes, spacings or frames of reference in one series are refused', async () => {
    const mixed = (ofSlice: CtStack['ofSlice']) => problemsOf(ctFiles({ ofSlice }));
    expect(await mixed((k) => (k > 5 ? [[0x00200037, 'DS', '0\\1\\0\\0\\0\\-1']] : []))).toContain(
      'slices of two orientations: 6 slices with rows along (1.00, 0.00, 0.00)',
    );
    expect(await mixed((k) => (k > 5 ? [[0x00280030, 'DS', '0.5\\0.5']] : []))).toContain(
      'different pixel spacing',
    );
    expect(await mixed((k) => (k > 5 ? [[0x00200052, 'UI', '2.25.9']] : []))).toContain(
      '2 frames of reference',
    );
    const sizes = [...ctFiles({ slices: 6 }), ...ctFiles({ columns: 6 }).slice(6)];
    expect(await problemsOf(sizes)).toContain(
      'slices of different sizes: 6 slices of 12 x 10 pixels, 2 others',
    );
  });
});

describe('a folder that is not a single series', () => {
  const second = ctFiles({
    slices: 5,
    thickness: 3,
    spacing: [0.7, 0.8, 3],
    elements: [
      [0x0020000e, 'UI', '2.25.778'],
      [0x00200011, 'IS', '7'],
    ],
  });
  it('two series: number, slices and thickness of each, never a description; one is selected by its number', async () => {
    const both = [...ctFiles(), ...second];
    const said = await problemsOf(both);
    expect(said).toBe(
      'it holds 2 CT series: number 4 (8 slices, 1.25 mm thick); number 7 (5 slices, 3.00 mm thick). Pick one with scan.series_number.',
    );
    expect(await problemsOf(both, 7)).toBe('');
    expect(await problemsOf(both, 5)).toContain('None has the number 5: correct scan.series_number.');
  });
  it('series without a number cannot be selected', async () => {
    const same = second.map((_, k) =>
      dicomFile([
        ...headerOf({ ...STACK, elements: [[0x0020000e, 'UI', '2.25.778']] }, k),
        [0x7fe00010, 'OW', pixelsOf(STACK, k)],
      ]),
    );
    expect(await problemsOf([...ctFiles(), ...same])).toContain('Their numbers do not distinguish them');
  });
  it('counts junk, other modalities and localisers without failing on them', async () => {
    const files = [
      ...ctFiles(),
      new TextEncoder().encode('a letter'),
      new Uint8Array(0),
      dicomFile([
        [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.88.67'],
        [0x00080060, 'CS', 'SR'],
      ]),
      dicomFile([
        ...headerOf({ ...STACK, elements: [[0x00080008, 'CS', 'ORIGINAL\\PRIMARY\\LOCALIZER']] }, 0),
        [0x7fe00010, 'OW', pixelsOf(STACK, 0)],
      ]),
    ];
    const folder = await folderOf(files);
    expect(folder).toMatchObject({
      junk: 2,
      others: [
        { modality: 'CT localiser', files: 1 },
        { modality: 'SR', files: 1 },
      ],
    });
    expect(pickSeries(folder)).toMatchObject({ sliceCount: 8, problems: [] });
  });
  it('another modality, nothing at all, one slice', async () => {
    const mr = ctFiles({
      elements: [
        [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.4'],
        [0x00080060, 'CS', 'MR'],
      ],
    });
    expect(await problemsOf(mr)).toBe(
      'it contains no CT image, but 8 files of modality MR. Give the folder of the CT series.',
    );
    expect(await problemsOf([])).toBe(
      'it contains no CT image: it is empty. Give the folder of the CT series.',
    );
    expect(await problemsOf(ctFiles().slice(0, 1))).toContain('one slice, which do not make a volume');
  });
  it('a truncated file, in its pixels or its header, is named by its number and place', async () => {
    const files = ctFiles();
    files[2] = files[2].subarray(0, files[2].length - 40);
    expect(await problemsOf(files)).toBe(
      'An image cannot be used: its pixels need 240 bytes, but it holds 200: it is cut off (file 3 of 8 in the order of names, at (-40.5, -20.3, 102.5) mm). Copy it again or export it again.',
    );
    files[2] = files[2].subarray(0, 500);
    expect(await problemsOf(files)).toMatch(/cut off \(file 3 of 8 in the order of names/);
  });
  it.each([
    ['no position', [0x00200032, 'DS', ''], 'does not give its position'],
    ['no direction', [0x00200037, 'DS', '1\\0\\0\\1\\0\\0'], 'does not give the orientation of its rows'],
    ['no spacing', [0x00280030, 'DS', '0\\0'], 'does not give its pixel spacing'],
    ['colours', [0x00280004, 'CS', 'RGB'], 'colours or inverted greys'],
    ['32 bits', [0x00280100, 'US', 32], '32 bits per pixel are not read'],
    ['slope 0', [0x00281053, 'DS', '0'], 'a rescale'],
    ['too large', [0x00280010, 'US', 2000], '12 x 2000 pixels are more than the 1024 x 1024'],
  ] as const)('refuses slices with %s', async (_, element, said) => {
    const text = await problemsOf(ctFiles({ elements: [element as never] }));
    expect(text).toContain(said);
    for (const secret of SECRETS) expect(text).not.toContain(secret);
  });
});
