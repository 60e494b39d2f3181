import { readFileSync } from 'node:fs';
import { Readable } from 'node:stream';
import { gzipSync } from 'node:zlib';
import { strToU8 } from 'fflate';
import { gatherSummaries } from '../../src/batch/gather.js';
import { failedRow, rowOf } from '../../src/batch/row.js';
import { summaryCsv, summaryJson, summaryMarkdown, summaryOf } from '../../src/batch/summary.js';
import { parseSummary } from '../../src/batch/summary-check.js';
import { parseCase } from '../../src/case/parse-case.js';
import { examinePatient } from '../../src/case/parse-patient.js';
import { parseShelf } from '../../src/case/read-shelf.js';
import { parseResult } from '../../src/cli/input/read-result.js';
import { compareResults } from '../../src/compare/compare.js';
import { comparisonJson } from '../../src/compare/comparison-json.js';
import { comparisonText } from '../../src/compare/comparison-text.js';
import { decodeYaml } from '../../src/foundation/located-yaml.js';
import { parseAnswers } from '../../src/grade/answers.js';
import { describeObject } from '../../src/mesh/describe-object.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { MeshFile } from '../../src/mesh/read/mesh-file.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { dicomFacts, encapsulatedModel } from '../../src/mesh/recognise/dicom-facts.js';
import { volumeFacts } from '../../src/mesh/recognise/label-map-facts.js';
import { encapsulateStl } from '../../src/print/encapsulate-stl.js';
import { parseReadings } from '../../src/print/readings.js';
import { loadRules, withOverlay } from '../../src/rules/load-rules.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { greyHeader, readGreyValues } from '../../src/volume/ct/grey-file.js';
import { volumeHash } from '../../src/volume/ct/grey-volume.js';
import { DamagedSlices, pickSeries, readFolder, readVoxels } from '../../src/volume/ct/read-series.js';
import { labelSurface } from '../../src/volume/label-surface.js';
import { labelMapOf } from '../../src/volume/read-label-map.js';
import { resultOf } from '../grade/make.js';
import {
  everyFormat,
  type GltfJson,
  glb,
  gltf,
  gltfParts,
  meshXml,
  model,
  threeMf,
} from '../mesh/mesh-bytes.js';
import { cylinder } from '../mesh/shapes.js';
import { jpeg2000Of, jpegLsOf, literalRle } from '../volume/ct/compressed.js';
import {
  type CtStack,
  ctFiles,
  encapsulated as encapsulatedPixels,
  dicomFile,
  headerOf,
  inMemory,
  multiFrame,
  STACK,
} from '../volume/ct/ct-bytes.js';
import { segOf } from '../volume/dicom-seg-bytes.js';
import { type LabelVolume, niftiOf, nrrdOf } from '../volume/label-volume.js';
import { notFinite } from './finite.js';
import { type Chance, mutatedBinary, mutatedJson, mutatedText } from './mutate.js';
import type { FuzzedReader } from './try-input.js';

const tube = cylinder(8, 2, 5, 2);
const small = cylinder(3, 1, 40, 1);
const text = (path: string): Buffer => readFileSync(new URL(path, import.meta.url));

/** What every mesh reader must return, processed up to a surface that can be measured and as `pavm inspect` describes it. */
async function meshProblem(bytes: Uint8Array, name: string): Promise<string | undefined> {
  const file = await readMesh(bytes, name);
  for (const { mesh } of file.objects) {
    const count = mesh.positions.length / 3;
    if (mesh.triangles.some((v) => v >= count)) return 'a triangle names a vertex that is not there';
    // an entry of a packed file may be a hundred times its size
    if (mesh.triangles.length / 3 > 120 * bytes.length) return 'more triangles than the file can hold';
  }
  return notFinite(file.objects) ?? surfaceProblem(file, name);
}

function surfaceProblem(file: MeshFile, shown: string): string | undefined {
  const surface = prepareSurface(file, { unitMm: file.unitMm ?? 1, label: 'part', shown });
  const described = file.objects
    .slice(0, 3)
    .map((object) => describeObject(file, object, { unitMm: file.unitMm ?? 1, shown, closeEnds: true }));
  const says = surface.findings.find((f) => /NaN|Infinity|undefined/.test(f.text));
  return notFinite(surface.mesh) ?? notFinite(described) ?? (says && `a finding says: ${says.text}`);
}

const files = [everyFormat(tube), everyFormat(small)];
const ofMesh = (name: string, isText: boolean): FuzzedReader => ({
  name,
  input: (chance) => (isText ? mutatedText : mutatedBinary)(files[0][name], files[1][name], chance),
  read: (bytes) => meshProblem(bytes, name),
});

const parts = [gltfParts(tube), gltfParts(small)];
const ofGltf = (name: string, isText: boolean): FuzzedReader => ({
  name,
  input(chance) {
    if (chance.below(3) === 0) return mutatedBinary(files[0][name], files[1][name], chance);
    const { json, data } = parts[0];
    if (!isText) return glb(mutatedJson(placed(json, chance), chance) as GltfJson, data);
    const whole = JSON.parse(Buffer.from(gltf(placed(json, chance), data)).toString('utf8'));
    return strToU8(JSON.stringify(mutatedJson(whole, chance)));
  },
  read: (bytes) => meshProblem(bytes, name),
});

/** The node with a transform, so that there is one to mutate. */
function placed<T extends { nodes: Record<string, unknown>[] }>(json: T, chance: Chance): T {
  const move =
    chance.below(2) === 0
      ? { matrix: [2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 0, 5, 6, 7, 1] }
      : { translation: [1, 2, 3], rotation: [0, 0, 0.6, 0.8], scale: [1, 2, 1] };
  return { ...json, nodes: [{ ...json.nodes[0], ...move }] };
}

const TRANSFORM = 'transform="1 0 0 0 1 0 0 0 1 5 6 7"';
const models = [tube, small].map((mesh) =>
  model(
    `<object id="1" name="part">${meshXml(mesh)}</object><object id="2"><components><component objectid="1" ${TRANSFORM}/></components></object>`,
    `<item objectid="2" ${TRANSFORM}/>`,
  ),
);
const threeMfReader: FuzzedReader = {
  name: 'part.3mf',
  input: (chance) =>
    chance.below(3) > 0
      ? threeMf(Buffer.from(mutatedText(strToU8(models[0]), strToU8(models[1]), chance)).toString('utf8'))
      : mutatedBinary(threeMf(models[0]), threeMf(models[1]), chance),
  read: (bytes) => meshProblem(bytes, 'part.3mf'),
};

/** A block of label 1, a bar of label 2 and a single voxel of label 7. */
function volume(sizes: [number, number, number]): LabelVolume {
  const labels = new Uint8Array(sizes[0] * sizes[1] * sizes[2]);
  for (let k = 1; k < 4; k++) for (let j = 1; j < 4; j++) labels.fill(1, at(1, j, k), at(4, j, k));
  labels.fill(2, at(0, 4, 4), at(sizes[0], 4, 4));
  labels[at(3, 3, 4)] = 7;
  return { sizes, spacing: [0.7, 0.8, 1.25], origin: [-30.5, 12.25, 100], labels };

  function at(i: number, j: number, k: number): number {
    return i + sizes[0] * (j + sizes[1] * k);
  }
}

async function labelProblem(bytes: Uint8Array, shown: string): Promise<string | undefined> {
  volumeFacts(bytes.subarray(0, 65_536), shown);
  const buffer = Buffer.from(bytes);
  const map = await labelMapOf(
    {
      bytes: bytes.length,
      start: async (length) => buffer.subarray(0, length),
      all: async () => buffer,
      from: (offset) => Readable.from(offset < buffer.length ? [buffer.subarray(offset)] : []),
    },
    { shown, unitMm: 1, wanted: () => [1, 2, 7] },
  );
  const wrong = notFinite(map.grid, 'grid') ?? notFinite(map.present, 'present');
  if (wrong) return wrong;
  for (const [label, runs] of map.labels) {
    if (runs.voxels === 0) continue;
    const mesh = labelSurface(
      map.grid,
      runs,
      [...map.labels.values()].filter((other) => other !== runs && other.voxels > 0),
    );
    const problem =
      notFinite(mesh) ??
      surfaceProblem(
        { format: 'label-map', objects: [{ name: `label ${label}`, mesh }], unitMm: 1, notes: [] },
        shown,
      );
    if (problem) return `label ${label}: ${problem}`;
  }
  return undefined;
}

const volumes = [volume([7, 5, 6]), volume([9, 6, 5])];
const names = new Map([
  ['sac', 1],
  ['A1', 2],
]);
const ofLabels = (
  name: string,
  of: (v: LabelVolume) => Uint8Array,
  pack?: (bytes: Uint8Array) => Uint8Array,
): FuzzedReader => {
  const [good, other] = volumes.map(of);
  return {
    name,
    input: (chance) => {
      if (!pack) return mutatedBinary(good, other, chance);
      // as often inside the compressed data as on it
      return chance.below(2) === 0
        ? pack(mutatedBinary(good, other, chance))
        : mutatedBinary(pack(good), pack(other), chance);
    },
    read: (bytes) => labelProblem(bytes, name),
  };
};

/** NIfTI-2: the same volume under the longer header (nifti2.h, 2011). */
function nifti2Of({ sizes, spacing, origin, labels }: LabelVolume): Uint8Array {
  const bytes = new Uint8Array(544 + labels.length);
  const view = new DataView(bytes.buffer);
  view.setInt32(0, 540, true);
  bytes.set([0x6e, 0x2b, 0x32, 0, 13, 10, 26, 10], 4);
  view.setInt16(12, 2, true);
  view.setInt16(14, 8, true);
  [3, ...sizes, 1, 1, 1, 1].forEach((n, i) => {
    view.setBigInt64(16 + 8 * i, BigInt(n), true);
  });
  [1, ...spacing, 0, 0, 0, 0].forEach((n, i) => {
    view.setFloat64(104 + 8 * i, n, true);
  });
  view.setBigInt64(168, 544n, true);
  view.setFloat64(176, 1, true);
  view.setInt32(344, 1, true);
  [0, 0, 1].forEach((n, i) => {
    view.setFloat64(352 + 8 * i, n, true);
  });
  origin.forEach((n, i) => {
    view.setFloat64(376 + 8 * i, n, true);
  });
  view.setInt32(500, 2, true);
  bytes.set(labels, 544);
  return bytes;
}

const encapsulated = await Promise.all(
  [files[0], files[1]].map((of) =>
    encapsulateStl({
      stl: of['binary.stl'],
      caseId: 'invented',
      title: 'Print model',
      scanDate: '2026-03-14',
      frame: 'LPS',
      description: 'Print model, scale 1:1',
      softwareVersion: '0.1.0',
    }),
  ),
);

const encapsulatedReader: FuzzedReader = {
  name: 'encapsulated-stl.dcm',
  input: (chance) => mutatedBinary(encapsulated[0], encapsulated[1], chance),
  async read(bytes) {
    const facts = await dicomFacts(bytes, 'model.dcm');
    const { bytes: stl, unitMm } = await encapsulatedModel(bytes, 'model.dcm');
    return notFinite(facts) ?? notFinite({ unitMm }) ?? meshProblem(stl, 'model.dcm');
  },
};

const ofText = (
  name: string,
  good: Uint8Array,
  other: Uint8Array,
  read: (bytes: Uint8Array) => unknown,
): FuzzedReader => ({
  name,
  input: (chance) => mutatedText(good, other, chance),
  read: async (bytes) => notFinite(await read(bytes)),
});

/** Every slice of a small stack, with one replaced; read to its voxels as by a plan. */
async function seriesProblem(files: readonly Uint8Array[]): Promise<string | undefined> {
  const memory = inMemory(files);
  const folder = await readFolder(memory, rules);
  const picked = pickSeries(folder);
  if (Array.isArray(picked)) throw new InputFailure(3, picked);
  const { slices: _, ...said } = picked;
  const wrong = notFinite(said) ?? notFinite(folder.others);
  if (wrong) return wrong;
  if (picked.problems.length > 0) throw new InputFailure(3, picked.problems);
  try {
    const volume = await readVoxels(picked, memory);
    return volumeHash(volume).length === 64 ? undefined : 'no hash';
  } catch (error) {
    if (error instanceof DamagedSlices) throw new InputFailure(3, error.problems);
    throw error;
  }
}

const ofSlice = (name: string, slices: readonly Uint8Array[]): FuzzedReader => ({
  name,
  input: (chance) => mutatedBinary(slices[2], slices[4], chance),
  read: (bytes) => seriesProblem([...slices.slice(0, 2), bytes, ...slices.slice(3)]),
});
const ofObject = (name: string, objects: readonly Uint8Array[]): FuzzedReader => ({
  name,
  input: (chance) => mutatedBinary(objects[0], objects[1], chance),
  read: (bytes) => seriesProblem([bytes]),
});

async function greyProblem(bytes: Uint8Array, shown: string): Promise<string | undefined> {
  const buffer = Buffer.from(bytes);
  const source = {
    bytes: bytes.length,
    start: async (length: number) => buffer.subarray(0, length),
    all: async () => buffer,
    from: (offset: number) => Readable.from(offset < buffer.length ? [buffer.subarray(offset)] : []),
  };
  const header = await greyHeader(source, shown);
  const volume = await readGreyValues(source, header, shown);
  return notFinite(header) ?? (volumeHash(volume).length === 64 ? undefined : 'no hash');
}
const ofGrey = (name: string, of: (v: LabelVolume) => Uint8Array): FuzzedReader => ({
  name,
  input: (chance) => mutatedBinary(of(volumes[0]), of(volumes[1]), chance),
  read: (bytes) => greyProblem(bytes, name),
});

const json = (value: unknown): Uint8Array => strToU8(JSON.stringify(value));
const ofJson = (name: string, good: unknown, read: (bytes: Uint8Array) => unknown): FuzzedReader => ({
  name,
  input: (chance) =>
    chance.below(4) > 0 ? json(mutatedJson(good, chance)) : mutatedText(json(good), json(good), chance),
  read: async (bytes) => notFinite(await read(bytes)),
});

const TOOL = { name: 'pavm-planner', version: '1.0.0', rule_set: 'abc' };
const summary: unknown = JSON.parse(
  summaryJson(summaryOf([rowOf(resultOf(), 'c1'), failedRow('c2', 3, ['bad'])], TOOL, { index: 1, of: 1 })),
);
const readings = (more: string): Uint8Array =>
  strToU8(
    `format: pavm-readings/1\ninstrument: caliper\nreadings:\n  - { name: G1, value: 8.1 mm }\n  - { name: G2, value: "0.52 cm", note: twice }\n${more}`,
  );
const ANSWERS = `format: pavm-answers/1
case: wren
answers:
  - { value: vessels.A1.landing.calibre_mm, answer: 3.2 mm }
  - { value: devices.A1.kind, answer: vascular plug }
  - { finding: large-feeder, answer: "no" }
`;
const [deviceRules, readinessRules] = ['device-fit', 'readiness'].map((name) =>
  text(`../../src/rules/${name}.yaml`),
);
const rules = loadRules();

/** Large enough for the resolutions of JPEG 2000. */
const ctStack: CtStack = {
  ...STACK,
  columns: 40,
  rows: 34,
  value: (i, j, k) => -1000 + 3 * i + 5 * j + 31 * k,
};
const packedSlices = (syntax: string, frames: readonly Uint8Array[]): Uint8Array[] =>
  frames.map((frame, k) => encapsulatedPixels(dicomFile(headerOf(ctStack, k), syntax), [frame]));

/** Every reader of the program, with its seeds. */
export const READERS: readonly FuzzedReader[] = [
  ofMesh('binary.stl', false),
  ofMesh('ascii.stl', true),
  ofMesh('part.obj', true),
  ofMesh('ascii.ply', true),
  ofMesh('little.ply', false),
  ofMesh('big.ply', false),
  ofGltf('part.gltf', true),
  ofGltf('part.glb', false),
  threeMfReader,
  ofLabels('nifti-1', niftiOf),
  ofLabels('nifti-2', nifti2Of),
  ofLabels('nifti.gz', niftiOf, gzipSync),
  ofLabels('nrrd', (v) => nrrdOf(v)),
  ofLabels('nrrd, gzip', (v) => nrrdOf(v, gzipSync(v.labels), 'gzip')),
  ofLabels('dicom-segmentation', (v) => segOf(v, names)),
  ofLabels('dicom-segmentation, fractional', (v) => segOf(v, names, { fractional: true })),
  encapsulatedReader,
  ofSlice('ct slice', ctFiles()),
  ofSlice('ct slice, JPEG 2000', packedSlices('1.2.840.10008.1.2.4.90', await jpeg2000Of(ctStack))),
  ofSlice('ct slice, JPEG-LS', packedSlices('1.2.840.10008.1.2.4.80', await jpegLsOf(ctStack))),
  ofSlice('ct slice, RLE', packedSlices('1.2.840.10008.1.2.5', literalRle(ctStack))),
  ofObject('ct object of frames', [multiFrame(), multiFrame({ slices: 5, columns: 7 })]),
  ofGrey('grey values, nifti', niftiOf),
  ofGrey('grey values, nrrd', (v) => nrrdOf(v)),
  ofText('case.yaml', text('../fixtures/cases/full.yaml'), text('../fixtures/cases/labels.yaml'), (bytes) =>
    parseCase(decodeYaml(bytes, 'case.yaml'), 'case.yaml'),
  ),
  ofText(
    'case.yaml, whole',
    text('../fixtures/cases/whole.yaml'),
    text('../fixtures/cases/full.yaml'),
    (bytes) => parseCase(decodeYaml(bytes, 'case.yaml'), 'case.yaml'),
  ),
  ofText(
    'patient.yaml',
    text('../../cases/avocet/patient.yaml'),
    text('../../cases/godwit/patient.yaml'),
    async (bytes) => {
      const examined = await examinePatient(decodeYaml(bytes, 'patient.yaml'), 'patient.yaml');
      examined.problems.throwIfAny();
      return examined.patient;
    },
  ),
  ofText('shelf.yaml', text('../fixtures/cases/shelf.yaml'), text('../../examples/shelf.yaml'), (bytes) =>
    parseShelf(decodeYaml(bytes, 'shelf.yaml'), 'shelf.yaml'),
  ),
  ofText('readings.yaml', readings(''), readings('  - { name: G3, value: 3 mm }\n'), (bytes) =>
    parseReadings(bytes, 'readings.yaml', ['G1', 'G2', 'G3'], '7A3F09C2'),
  ),
  ofText('answers.yaml', strToU8(ANSWERS), strToU8(ANSWERS), (bytes) =>
    parseAnswers(decodeYaml(bytes, 'answers.yaml', { exitCode: 2 }), 'answers.yaml'),
  ),
  ofText('rules.yaml', deviceRules, readinessRules, (bytes) =>
    withOverlay(rules.list, [{ name: 'rules.yaml', text: decodeYaml(bytes, 'rules.yaml', { exitCode: 2 }) }]),
  ),
  ofJson('result.json', resultOf(), async (bytes) => {
    const result = await parseResult(bytes, 'result.json');
    const compared = [
      compareResults(result, resultOf(), { rules }),
      compareResults(resultOf(), result, { rules }),
    ];
    for (const comparison of compared) {
      comparisonJson(comparison);
      comparisonText(comparison);
    }
    return [result, compared];
  }),
  ofJson('summary.json', summary, (bytes) => {
    const gathered = gatherSummaries([
      { name: 'summary.json', summary: parseSummary(bytes, 'summary.json') },
    ]);
    return [gathered, summaryMarkdown(gathered), summaryCsv(gathered), summaryJson(gathered)];
  }),
];
