import { readFile, stat } from 'node:fs/promises';
import { createGunzip } from 'node:zlib';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { largestOf } from '../../foundation/largest-of.js';
import { fixed, rounded } from '../../foundation/number-text.js';
import { scale } from '../../foundation/vector.js';
import { describeObject, type EndFinder } from '../../mesh/describe-object.js';
import { likelyUnits, unitName } from '../../mesh/load-surface.js';
import { boundingBox } from '../../mesh/measures.js';
import { checkByteCount, type MeshFile, refuse } from '../../mesh/read/mesh-file.js';
import { MESH_FORMATS, meshFormat, readMesh } from '../../mesh/read/read-mesh.js';
import { readMeshFile } from '../../mesh/read/read-mesh-file.js';
import {
  dicomFacts,
  ENCAPSULATED_STL,
  encapsulatedModel,
  isDicom,
  LABEL_MAP_SEGMENTATION,
  SEGMENTATION,
} from '../../mesh/recognise/dicom-facts.js';
import { meshTexts, volumeTexts } from '../../mesh/recognise/file-texts.js';
import { joinedIdentity, looksIdentifying, textIdentity } from '../../mesh/recognise/identity.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import { type VolumeFacts, volumeFacts } from '../../mesh/recognise/label-map-facts.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import {
  type AskedPlace,
  askedPlace,
  checkPicture,
  type PlaceFlags,
  type PlaceReport,
  writePicture,
} from '../inspect/inspect-place.js';
import {
  HEADER_BYTES,
  inspectFolder,
  type Report,
  readStart,
  seriesReport,
  withScan,
} from '../inspect/inspect-folder.js';
import { type LabelsReport, labelsReport } from '../inspect/inspect-labels.js';
import { identityLines, objectText } from '../inspect/inspect-text.js';
import { unitFlagMm } from '../input/mesh-unit.js';
import { type SacFlags, sacFlag } from '../input/sac-flag.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';

export interface InspectOptions extends SacFlags, PlaceFlags {
  json?: boolean;
  /** mm, cm, m or inch: the unit of the coordinates of a mesh. */
  unit?: string;
  /** Close planar open ends before taking the volume. */
  capped?: boolean;
}

/**
 * `pavm inspect FILE`: reports what a mesh, DICOM file or folder, or label map contains. Nothing is changed or guessed; if no unit is
 * stated, mm is assumed and the report says so. A CT series or a label map that cannot be used is a stop (1). A file that identifies a
 * patient gives a caution that names the fields; their content is never printed.
 */
export async function run(
  args: readonly string[],
  options: InspectOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length !== 1) {
    throw new InputFailure(
      2,
      'pavm inspect: one file or folder is needed. For example: pavm inspect meshes/sac.stl',
    );
  }
  // a wrong flag is rejected before anything is read
  const path = args[0];
  unitFlagMm('inspect', options.unit);
  if (options.near === undefined && options.out === undefined) sacFlag(options);
  const place = askedPlace(options);
  if (place) await checkPicture(place, [path]);
  const report = await inspectPath(path, options);
  const { identity, findings = [] } = report;
  const about = place && (await placeOf(report, place, path));
  const json = { ...report.json, ...about?.json };
  const text = `${report.text}${about?.lines.map((line) => `${line}\n`).join('') ?? ''}`;
  if (about?.svg !== undefined && place?.out !== undefined) await writePicture(place.out, about.svg, [path]);
  const { by, freeText } = identity;
  const said = {
    identified: by.length > 0 ? 'yes' : 'no',
    ...(by.length > 0 && { identified_by: by }),
    ...(freeText.length > 0 && { free_text: freeText }),
  };
  terminal.out(
    options.json
      ? `${JSON.stringify({ ...json, ...said }, undefined, 2)}\n`
      : `${text}${identityLines(identity).join('\n')}\n`,
  );
  sayFindings([...findings, ...identityFindings(identity, shownPath(path))], terminal);
  return findings.some(({ level }) => level === 'stop') ? EXIT.stopFinding : EXIT.done;
}

/** The scan around a place. A mesh has no grey values, so the flags other than `--sac`, which was handled before, are rejected. */
async function placeOf(report: Report, place: AskedPlace, path: string): Promise<PlaceReport | undefined> {
  if (report.json.kind === 'mesh') {
    if (place.flag === '--sac' && place.out === undefined) return undefined;
    throw new InputFailure(
      2,
      `${place.out === undefined ? place.flag : '--out'}: it is for a CT series; ${shownPath(path)} is a mesh.`,
    );
  }
  const { placeReport } = await import('../inspect/inspect-place.js');
  return placeReport(report.volume ?? (await onlySeries(path)), place);
}

/** The voxels of a file that is a single scan; throws if there are none. */
async function onlySeries(path: string): Promise<GreyVolume> {
  const [{ openScan }, { rulesInForce }] = await Promise.all([
    import('../scan/open-scan.js'),
    import('../../rules/rules-in-force.js'),
  ]);
  return (await openScan(path, shownPath(path), await rulesInForce())).voxels();
}

function identityFindings({ by }: Identity, shown: string): Finding[] {
  if (by.length === 0) return [];
  const text = `It carries what identifies a patient: ${by.join(', ')}. The values are not shown; de-identify the file before passing it on.`;
  return [finding('caution', 'file-identified', shown, text)];
}

async function inspectPath(path: string, options: InspectOptions): Promise<Report> {
  try {
    const facts = await stat(path);
    if (facts.isDirectory()) return await inspectFolder(path);
    if (!facts.isFile()) {
      refuse(
        shownPath(path),
        '',
        'it is not a file or folder',
        'Give a mesh file, a label map or a DICOM folder',
      );
    }
    return await inspectFile(path, options);
  } catch (error) {
    if (!(error instanceof Error && 'syscall' in error && 'code' in error)) throw error;
    const missing = error.code === 'ENOENT' || error.code === 'ENOTDIR';
    return refuse(
      shownPath(path),
      '',
      missing ? 'there is no such file or folder' : `it cannot be read (${String(error.code)})`,
      'Check the path and the rights to it',
    );
  }
}

async function inspectFile(path: string, options: InspectOptions): Promise<Report> {
  const { size } = await stat(path);
  const shown = shownPath(path);
  checkByteCount(shown, size);
  const start = await readStart(path, Math.min(size, HEADER_BYTES));
  if (isDicom(start)) return inspectDicom(path, start, size, options);
  const unpacked = await unpackedStart(start);
  const volume = volumeFacts(unpacked, shown);
  if (volume) {
    const labels = await labelsReport(path, shown);
    const identity = joinedIdentity([textIdentity(volumeTexts(unpacked)), labels.identity]);
    return { ...volumeReport(volume, labels), identity, findings: labels.findings };
  }
  if (!meshFormat(start, size, shown)) {
    refuse(
      shown,
      '',
      'it is not a mesh, DICOM file or label map that is known here',
      `${MESH_FORMATS}; NIfTI and NRRD too`,
    );
  }
  return meshReport(await readMeshFile(path, { shown }), start, shown, options);
}

/** The first unpacked bytes of a gzip file, else the bytes themselves. Never unpacks more than 64 KiB. */
async function unpackedStart(start: Uint8Array): Promise<Uint8Array> {
  if (start[0] !== 0x1f || start[1] !== 0x8b) return start;
  return new Promise((resolve) => {
    const gunzip = createGunzip({ chunkSize: 65_536 });
    gunzip.once('data', (piece: Uint8Array) => {
      resolve(piece);
      gunzip.destroy();
    });
    gunzip.once('error', () => resolve(start));
    gunzip.once('end', () => resolve(start));
    gunzip.end(start);
  });
}

async function meshReport(
  file: MeshFile,
  start: Uint8Array,
  shown: string,
  options: InspectOptions,
  container = '',
): Promise<Report> {
  const identity = withholdNames(file, start);
  const asked = unitFlagMm('inspect', options.unit);
  const place = sacFlag(options);
  const unitMm = asked ?? file.unitMm ?? 1;
  const stated = file.unitMm === undefined ? undefined : unitName(file.unitMm);
  const used = unitName(unitMm);
  const unitNote = asked
    ? `${used}, as asked for`
    : stated
      ? `${used}, as the file states`
      : 'not stated in the file; mm was taken. State another with --unit';
  const longest = largestOf(file.objects.map((o) => largestOf(boundingBox(o.mesh).size))) * unitMm;
  const guess = likelyUnits(longest, unitMm);
  // if the size fits no structure of the chest, calibres in mm would be meaningless
  const { vesselEnds } = await import('../input/vessel-ends.js');
  const about = place && { at: scale(place.at, unitMm), reachMm: place.reachMm };
  const endsOf = guess && !about ? undefined : (...of: Parameters<EndFinder>) => vesselEnds(...of, about);
  const objects = file.objects.map((object) =>
    describeObject(file, object, { unitMm, shown, closeEnds: options.capped ?? false, endsOf }),
  );
  const json = {
    format: 'pavm-inspect/1',
    kind: 'mesh',
    ...(container ? { container } : {}),
    mesh_format: file.format,
    unit: {
      ...(stated ? { stated } : {}),
      used,
      assumed: asked === undefined && file.unitMm === undefined,
      fits_anatomy: guess === undefined,
      ...(guess ? { likely: guess } : {}),
    },
    longest_edge_mm: rounded(longest, 4),
    notes: file.notes,
    objects,
  };
  const lines = [
    `format               ${container ? `${container}, ` : ''}${file.format}`,
    `unit                 ${unitNote}`,
    `size                 longest edge of a bounding box ${fixed(longest, 2)} mm${guess ? `; this fits no structure of the chest${guess.length > 0 ? `, the coordinates look like ${guess.join(' or ')}` : ''}` : ''}`,
    `objects              ${objects.length}`,
    ...file.notes.map((note) => `note                 ${note}`),
    '',
  ];
  const text = lines.join('\n') + objects.map((o) => `\n${objectText(o, used, unitMm)}`).join('');
  return { json, text: `${text}\n`, identity };
}

/** Identifying text in a mesh file; object names that identify the patient are removed. */
function withholdNames(file: MeshFile, start: Uint8Array): Identity {
  const texts = meshTexts(start, file.format);
  for (const text of file.metadata ?? []) texts.push({ field: '3MF metadata', text });
  const fromTexts = textIdentity(texts);
  const named = file.objects.filter(({ name }) => looksIdentifying(name));
  for (const object of named) object.name = `object ${file.objects.indexOf(object) + 1}, name withheld`;
  return joinedIdentity([fromTexts, { by: named.length > 0 ? ['object name'] : [], freeText: [] }]);
}

async function inspectDicom(
  path: string,
  start: Uint8Array,
  size: number,
  options: InspectOptions,
): Promise<Report> {
  const shown = shownPath(path);
  const facts = await dicomFacts(start, shown);
  if (facts.sopClass !== ENCAPSULATED_STL) {
    const series = seriesReport([{ facts, files: 1 }], 0);
    if ((facts.frames ?? 1) > 1 && facts.modality === 'CT') return withScan(series, path);
    if (facts.sopClass !== SEGMENTATION && facts.sopClass !== LABEL_MAP_SEGMENTATION) return series;
    const labels = await labelsReport(path, shown, true);
    return {
      json: { ...series.json, ...labels.json },
      text: `${series.text}${labels.lines.join('\n')}\n`,
      identity: joinedIdentity([series.identity, labels.identity]),
      findings: labels.findings,
    };
  }
  const model = await encapsulatedModel(size > start.length ? await readFile(path) : start, shown);
  const file = await readMesh(model.bytes, shown, false);
  if (!file.format.startsWith('stl')) {
    refuse(shown, 'DICOM (0042,0011)', 'the encapsulated document is not an STL', 'Export the object again');
  }
  for (const object of file.objects) object.name = object.name || 'encapsulated model';
  const withUnit = model.unitMm === undefined ? file : { ...file, unitMm: model.unitMm };
  const report = await meshReport(withUnit, model.bytes, shown, options, 'DICOM encapsulated STL');
  return { ...report, identity: joinedIdentity([facts.identity, report.identity]) };
}

function volumeReport(facts: VolumeFacts, labels: LabelsReport): Omit<Report, 'identity'> {
  const spacing = facts.spacingMm?.map((s) => rounded(s, 6));
  const json = {
    format: 'pavm-inspect/1',
    kind: 'volume',
    volume_format: facts.format,
    sizes: facts.sizes,
    ...(spacing ? { spacing_mm: spacing } : {}),
    data_type: facts.dataType,
    notes: facts.notes,
    ...labels.json,
  };
  const lines = [
    `format               ${facts.format} volume (label map or image)`,
    `voxels               ${facts.sizes.join(' x ')}`,
    `spacing              ${spacing ? `${spacing.join(' x ')} mm` : 'not stated'}`,
    `voxel type           ${facts.dataType}`,
    ...facts.notes.map((note) => `note                 ${note}`),
    ...labels.lines,
  ];
  return { json, text: `${lines.join('\n')}\n` };
}
