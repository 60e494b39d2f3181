import { createHash } from 'node:crypto';
import { stat } from 'node:fs/promises';
import type { Case, InputPath, VesselEnd } from '../../case/case.js';
import { type CaseOnDisk, readCase } from '../../case/read-case.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { scale, type Vec3 } from '../../foundation/vector.js';
import type { ScanFrame } from '../../geometry/describe-vessel.js';
import type { LesionMeasure } from '../../geometry/measure.js';
import type { PartSurface } from '../../geometry/measure-parts.js';
import type { LoadedSurface } from '../../mesh/load-surface.js';
import type { Result } from '../../result/result.generated.js';
import type { Rules } from '../../rules/rule.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import type { LesionInScan } from '../../witness/lesion-in-scan.js';
import { coarseStructures } from '../surfaces/coarse-structures.js';
import type { LoadedPart } from './loaded-part.js';
import type { OnProgress, ProposedSurface } from '../from-scan/proposed-surface.js';
import { scanInput, scanOfCase } from '../scan/scan-of-case.js';
import { sha256OfFile } from '../input/sha256-of-file.js';
import { SideWork } from '../surfaces/side-work.js';
import type { Structure } from '../surfaces/structure.js';

export interface MeasureCaseOptions {
  /** A folder that may hold inputs outside the case folder. */
  root?: string;
  /** A folder of the hospital's own rule files. */
  rules?: string;
  /** Only the headers of the CT series are read, where no surface is made from it: for commands whose outputs name no inputs. */
  headersOnly?: boolean;
  /** Told while a surface is made from the scan. */
  onProgress?: OnProgress;
}

/** A case with its surfaces read and measured. */
export interface MeasuredCase {
  case: Case;
  onDisk: CaseOnDisk;
  rules: Rules;
  lesion: LesionMeasure;
  structures: Structure[];
  /** The part of the scan about the lesion, for pictures. */
  grey?: GreyVolume;
  /** What was found, once the search for crossing triangles is done: ask for it late, it runs beside other work. */
  findings(): Promise<Finding[]>;
  /** Every file that was read, for the provenance. */
  inputs: Result['inputs'];
  /** What the CT series says, and whether the surfaces lie in it. */
  scan: NonNullable<Result['scan']>;
  frame: NonNullable<Result['frame']>;
  /** What the surfaces miss, and hold without contrast agent, where they lie in the scan. */
  missed?: LesionInScan['missed'];
  uncontrasted?: LesionInScan['uncontrasted'];
  /** The surface, where it was made from the scan. */
  proposed?: ProposedSurface;
}

/**
 * Reads a case and measures its surfaces. Throws InputFailure (2, 3) for what cannot be used; what cannot be
 * measured is absent from `lesion` and said in `findings`.
 */
export async function measureCase(path: string, options: MeasureCaseOptions = {}): Promise<MeasuredCase> {
  return measureRead(await readCase(path, { root: options.root }), options);
}

/** The same for a case that has been read. */
export async function measureRead(
  onDisk: CaseOnDisk,
  options: MeasureCaseOptions = {},
): Promise<MeasuredCase> {
  const { loadRules } = await import('../../rules/load-rules.js');
  const rules = loadRules(options.rules);
  const seen = await scanOfCase(onDisk.case, onDisk.typed, rules);
  let subject = seen.case;
  const findings = [...rules.findings, ...onDisk.findings, ...seen.findings];
  const side = new SideWork();
  let measured: Measured = {
    lesion: { vessels: [], neighbours: [] },
    structures: [],
    findings: [],
    crossings: [],
  };
  const { surfaces } = subject;
  const { fromScan } = surfaces ?? {};
  const volume = options.headersOnly && !fromScan ? undefined : await seen.open?.voxels();
  let proposed: ProposedSurface | undefined;
  if (!surfaces) {
    findings.push(
      finding(
        'caution',
        'surfaces-absent',
        'surfaces',
        'The case names no surfaces: nothing was measured on the lesion.',
      ),
    );
  } else if (surfaces.parts) {
    measured = await measurePartsOf(subject, await loadParts(subject), rules, side);
  } else if (surfaces.whole) {
    const { mesh, ends, sac, path } = surfaces.whole;
    const surface = await load(subject, 'whole', mesh, undefined);
    measured = await measureWholeOf(subject, { surface, shown: mesh.relative, ends, sac, path }, rules, side);
  } else if (fromScan) {
    const { LESION_FILE, proposedSurface } = await import('../from-scan/proposed-surface.js');
    const { typed } = onDisk;
    if (!volume) throw new RangeError('a case with from_scan names a series');
    proposed = proposedSurface(subject, fromScan, { typed, volume, rules, onProgress: options.onProgress });
    findings.push(...proposed.findings);
    const places = new Map(proposed.result.ends.map(({ name, point_mm }) => [name, point_mm]));
    const ends = fromScan.ends.map((end) => ({ ...end, at: places.get(end.name) ?? end.at }));
    const { sac, path } = fromScan;
    const { surface } = proposed;
    measured = await measureWholeOf(subject, { surface, shown: LESION_FILE, ends, sac, path }, rules, side);
  } else {
    const { labelledParts } = await import('./labelled-parts.js');
    const labelled = await labelledParts(subject);
    subject = labelled.case;
    findings.splice(0, findings.length, ...labelled.amended(findings));
    const scanned = { ...subject, scan: { ...subject.scan, ...labelled.resolution } };
    measured = await measurePartsOf(scanned, labelled.parts, rules, side);
  }
  const after: Finding[] = [];
  if (subject.scan.sliceThicknessMm === undefined && subject.scan.inPlaneMm === undefined && surfaces)
    after.push(
      finding(
        'caution',
        'resolution-unknown',
        'scan',
        'The case gives no slice thickness and in-plane spacing: the intervals hold only the scatter of the sections and the facets of the surface.',
      ),
    );
  const witnessed = options.headersOnly
    ? unwitnessed(measured)
    : await witnessOf(subject, measured, volume, rules);
  after.push(...witnessed.findings);
  const { frame } = witnessed;
  const shown = await coarseStructures(measured.structures, side);
  after.push(...shown.findings);
  return {
    grey: volume && !options.headersOnly ? await croppedFor(shown.structures, volume, subject) : undefined,
    case: subject,
    onDisk,
    rules,
    lesion: { ...measured.lesion, vessels: witnessed.vessels },
    structures: shown.structures,
    findings: async () => {
      const crossings = await Promise.all(measured.crossings.map((found) => found()));
      return [...findings, ...measured.findings, ...crossings.flat(), ...after];
    },
    inputs: await inputsOf(onDisk, volume),
    scan: seen.scan && { ...seen.scan, ...(witnessed.blurMm && { blur_mm: witnessed.blurMm }) },
    frame,
    missed: witnessed.missed,
    uncontrasted: witnessed.uncontrasted,
    proposed,
  };
}

async function croppedFor(
  structures: readonly Structure[],
  volume: GreyVolume,
  { surfaces }: Case,
): Promise<GreyVolume | undefined> {
  const { pictureCrop } = await import('../scan/picture-crop.js');
  return pictureCrop(structures, volume, surfaces?.frame ?? 'unknown');
}

/** What measuring gives, in the order of the result; `crossings` may still be searched for. */
type Measured = Pick<MeasuredCase, 'lesion' | 'structures'> & {
  findings: Finding[];
  crossings: (() => Promise<Finding[]>)[];
};

/** What the scan says of the surfaces; unchecked without one of both. */
async function witnessOf(
  subject: Case,
  { structures, lesion }: Measured,
  volume: GreyVolume | undefined,
  rules: Rules,
): Promise<LesionInScan> {
  const blood = structures.filter(({ role }) => role === 'whole');
  const parts = structures.filter(({ role }) => TUBES.has(role) || role === 'sac');
  const surfaces = blood.length > 0 ? blood : parts;
  if (!volume || !subject.surfaces || surfaces.length === 0) return unwitnessed({ lesion });
  const { lesionInScan } = await import('../../witness/lesion-in-scan.js');
  const { frame } = subject.surfaces;
  return lesionInScan({ surfaces, vessels: lesion.vessels, frame, side: subject.lesion.side }, volume, rules);
}

const unwitnessed = ({ lesion }: Pick<Measured, 'lesion'>): LesionInScan => ({
  frame: { verdict: 'unchecked' },
  vessels: lesion.vessels,
  findings: [],
});

function scanFrame(subject: Case): ScanFrame {
  const { scan, surfaces } = subject;
  return {
    scan: { sliceThicknessMm: scan.sliceThicknessMm, inPlaneMm: scan.inPlaneMm },
    hasAxes: surfaces !== undefined && surfaces.frame !== 'unknown',
  };
}

/** Roles that are tubes to be followed. */
const TUBES: ReadonlySet<string> = new Set(['feeder', 'drain', 'branch', 'systemic-feeder']);

async function load(
  subject: Case,
  label: string,
  mesh: InputPath,
  object: string | undefined,
): Promise<LoadedSurface> {
  const { loadSurface } = await import('../../mesh/load-surface.js');
  return loadSurface(mesh.absolute, {
    checkSelfIntersection: false,
    unitMm: subject.surfaces!.unitMm,
    mendMm: subject.surfaces!.mendMm,
    object,
    label,
    shown: mesh.relative,
  });
}

/** The surface of each structure that has a file or an object of its own. */
async function loadParts(subject: Case): Promise<LoadedPart[]> {
  const loaded: LoadedPart[] = [];
  for (const part of subject.surfaces?.parts ?? []) {
    const surface = await load(subject, part.name, part.mesh, part.object);
    loaded.push({ part, surface, shown: part.mesh.relative });
  }
  return loaded;
}

async function measurePartsOf(
  subject: Case,
  given: readonly LoadedPart[],
  rules: Rules,
  side: SideWork,
): Promise<Measured> {
  const { closeEnds, noVesselNear, wallHole } = await import('../../mesh/close-ends.js');
  const { measureParts } = await import('../../geometry/measure-parts.js');
  const { addSurroundings } = await import('../../geometry/surroundings.js');
  const findings: Finding[] = [];
  const parts = given.map(({ part }) => part);
  const { largestPiece, withoutSmallPieces } = await import('../../mesh/pieces.js');
  const { dropBelowMm3, mendMm } = subject.surfaces!;
  const broken = new Set<string>();
  const { lumenOf } = await import('../../mesh/wall.js');
  const outsides = new Map<string, LoadedSurface>();
  const loaded = given.map((one) => {
    const { name, role } = one.part;
    if (!TUBES.has(role) && role !== 'sac')
      return dropBelowMm3 === undefined
        ? one
        : { ...one, surface: withoutSmallPieces(one.surface, name, dropBelowMm3) };
    const options = { label: name, dropBelowMm3, stopShare: rules.measure.pieceShare };
    const single = largestPiece(one.surface, options);
    const { lumen, outside, isUnclear } = lumenOf(single.surface, name);
    if (single.isBroken || isUnclear) broken.add(name);
    if (outside) outsides.set(name, outside);
    return { ...one, surface: lumen };
  });
  const tubes = loaded.filter(({ part }) => TUBES.has(part.role)).map(({ surface }) => surface.mesh);
  const surfaces: PartSurface[] = loaded.map(({ part, surface, shown }) => {
    const base = { name: part.name, role: part.role, of: part.of, spare: part.spare };
    if (!TUBES.has(part.role) && part.role !== 'sac') {
      findings.push(
        ...surface.findings.map((f) => (f.id === 'open-surface' ? { ...f, level: 'note' as const } : f)),
      );
      return { ...base, mesh: surface.mesh, twin: surface.topology.twin, capTriangles: [] };
    }
    const notAnEnd = part.role === 'sac' ? noVesselNear(tubes) : wallHole;
    const closed = closeEnds(surface, {
      label: part.name,
      shown,
      notAnEnd,
      mendMm,
    });
    findings.push(...closed.findings);
    return { ...base, mesh: closed.mesh, twin: closed.twin, capTriangles: closed.capTriangles };
  });
  // of a wall the outside is drawn and printed
  const drawn = surfaces.map((part, i) => {
    const outside = outsides.get(part.name);
    if (!outside) return part;
    const notAnEnd = part.role === 'sac' ? noVesselNear(tubes) : wallHole;
    const { mesh, twin } = closeEnds(outside, { label: part.name, shown: loaded[i].shown, notAnEnd, mendMm });
    return { ...part, mesh, twin };
  });
  for (const { mesh, twin } of drawn) side.beginCopy(mesh, twin);
  const crossings = loaded.map(({ part, surface }) => side.beginCrossings(surface.mesh, part.name));
  const measured = measureParts(surfaces, rules.measure, scanFrame(subject));
  // a part of which much lies in another piece has no numbers
  measured.lesion.vessels = measured.lesion.vessels.filter(({ name }) => !broken.has(name));
  if (parts.some(({ name, role }) => role === 'sac' && broken.has(name))) delete measured.lesion.sac;
  measured.lesion.mended = loaded.flatMap(({ part, surface }) =>
    surface.mended.map((crack) => ({ structure: part.name, ...crack })),
  );
  findings.push(...measured.findings);
  const sac = parts.find((p) => p.role === 'sac');
  const vessels = new Map(
    parts.filter((p) => TUBES.has(p.role)).map((p) => [p.name, measured.surfaces.get(p.name)!]),
  );
  const atRisk = parts
    .filter(
      (p) =>
        p.role === 'airway' ||
        p.role === 'heart' ||
        p.role === 'chest-wall' ||
        p.role === 'lobe' ||
        (p.role === 'branch' && p.spare),
    )
    .map((p) => ({ name: p.name, surface: measured.surfaces.get(p.name)! }));
  addSurroundings(
    measured.lesion,
    { sac: sac && measured.surfaces.get(sac.name), vessels },
    atRisk,
    rules.measure,
    subject.surfaces!.frame,
  );
  const structures = drawn.map(({ name, role, mesh, twin, of, spare }) => ({
    name,
    role,
    mesh,
    twin,
    of,
    spare,
  }));
  return { lesion: measured.lesion, structures, findings, crossings };
}

/** One surface of the whole lesion with what the case says of it; `shown` is its name in messages, `path` its place in the case. */
interface WholeSurface {
  surface: LoadedSurface;
  shown: string;
  ends: VesselEnd[];
  sac?: Vec3;
  path: string;
}

async function measureWholeOf(
  subject: Case,
  whole: WholeSurface,
  rules: Rules,
  side: SideWork,
): Promise<Measured> {
  const { closeEnds, wallHole } = await import('../../mesh/close-ends.js');
  const { measureWhole } = await import('../../geometry/measure-whole.js');
  const { LEAST_END_MM, openingsBySize } = await import('../../mesh/openings.js');
  const { letterOf } = await import('../../geometry/whole/ends-of.js');
  const { addSurroundings } = await import('../../geometry/surroundings.js');
  const { largestPiece } = await import('../../mesh/pieces.js');
  const { lumenOf } = await import('../../mesh/wall.js');
  const { LARGEST_SNAP_MM } = await import('../../geometry/whole/place-ends.js');
  const { unitMm, frame, mendMm, dropBelowMm3 } = subject.surfaces!;
  const points = [...whole.ends.map(({ at }) => at), ...(whole.sac ? [whole.sac] : [])].map((p) =>
    scale(p, unitMm),
  );
  const single = largestPiece(whole.surface, {
    label: 'whole',
    dropBelowMm3,
    // another tree beside the lesion's is no part of it: whether a named point lies there is judged by the point
    stopShare: Number.POSITIVE_INFINITY,
    alsoKeep: ({ low, high }) =>
      points.some((p) => p.every((x, k) => x >= low[k] - LARGEST_SNAP_MM && x <= high[k] + LARGEST_SNAP_MM)),
  });
  const { lumen: surface, outside, isUnclear } = lumenOf(single.surface, 'whole');
  if (isUnclear) {
    const { mesh, topology, findings } = surface;
    const structures: Structure[] = [{ name: 'lesion', role: 'whole', mesh, twin: topology.twin }];
    return { lesion: { vessels: [], neighbours: [] }, structures, findings, crossings: [] };
  }
  const notAnEnd = (loop: Parameters<typeof wallHole>[0]): string | undefined =>
    wallHole(loop, LEAST_END_MM * 2);
  const closed = closeEnds(surface, { label: 'whole', shown: whole.shown, notAnEnd, mendMm });
  side.beginCopy(closed.mesh, closed.twin);
  const crossings = [side.beginCrossings(surface.mesh, 'whole')];
  const findings = [...closed.findings];
  const measured = measureWhole(
    {
      mesh: closed.mesh,
      twin: closed.twin,
      capTriangles: closed.capTriangles,
      ends: whole.ends.map((end) => ({
        name: end.name,
        role: end.role,
        of: end.of,
        point: scale(end.at, unitMm),
        where: `${subject.locate(`${end.path}.at`)} ${end.path}.at`,
      })),
      sac: whole.sac && {
        point: scale(whole.sac, unitMm),
        where: `${subject.locate(`${whole.path}.sac`)} ${whole.path}.sac`,
      },
      offeredEnds: openingsBySize(surface.mesh, surface.topology).map(({ loop }, i) => ({
        letter: letterOf(i),
        centre: loop.centroid,
        calibreMm: loop.equivalentDiameterMm,
      })),
    },
    rules.measure,
    scanFrame(subject),
  );
  measured.lesion.mended = surface.mended.map((crack) => ({ structure: 'whole', ...crack }));
  findings.push(...measured.findings);
  const vessels = new Map(measured.lesion.vessels.map((v) => [v.name, measured.surface]));
  addSurroundings(measured.lesion, { vessels }, [], rules.measure, frame);
  const { bounded } = measured;
  const shown = outside
    ? closeEnds(outside, { label: 'whole', shown: whole.shown, notAnEnd, mendMm })
    : closed;
  const lesion = bounded ? { mesh: bounded.mesh } : { mesh: shown.mesh, twin: shown.twin };
  const structures: Structure[] = [{ name: 'lesion', role: 'whole', ...lesion }];
  if (measured.sacBody)
    structures.push({ name: 'sac', role: 'sac', mesh: measured.surface.toFileMesh(measured.sacBody) });
  if (bounded && bounded.leftOut.pieces > 0)
    structures.push({ name: 'left out', role: 'left-out', mesh: bounded.leftOut.mesh });
  return { lesion: measured.lesion, structures, findings, crossings };
}

/** Name, sha256 and size of every file that was read, and of the CT series. */
async function inputsOf(onDisk: CaseOnDisk, volume: GreyVolume | undefined): Promise<Result['inputs']> {
  const files = new Map<string, InputPath>();
  for (const { input, role } of onDisk.inputs) if (role !== 'series') files.set(input.relative, input);
  const rows: Result['inputs'] = [
    {
      path: onDisk.file.relative,
      sha256: createHash('sha256').update(onDisk.bytes).digest('hex'),
      bytes: onDisk.bytes.length,
    },
  ];
  for (const [path, input] of [...files].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const facts = await stat(input.absolute);
    rows.push({ path, sha256: await sha256OfFile(input.absolute), bytes: facts.size });
  }
  if (volume) rows.push(scanInput(onDisk.case.scan.series!.relative, volume));
  return rows;
}
