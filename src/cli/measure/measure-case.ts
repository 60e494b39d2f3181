import { createHash } from 'node:crypto';
import type { Case, FromScan, InputPath } from '../../case/case.js';
import { type CaseOnDisk, readCase } from '../../case/read-case.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { inStage } from '../../foundation/stage.js';
import type { ScanFrame } from '../../geometry/describe-vessel.js';
import type { WholeGiven } from '../../geometry/lesion-of-whole.js';
import type { LoadedPart } from '../../geometry/loaded-part.js';
import type { LesionMeasure } from '../../geometry/measure.js';
import { bloodSurfaces, type Structure } from '../../geometry/structure.js';
import type { LoadedSurface } from '../../mesh/load-surface.js';
import type { Result } from '../../result/result.generated.js';
import type { Rules } from '../../rules/rule.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import type { LesionInScan } from '../../witness/lesion-in-scan.js';
import { coarseStructures } from '../surfaces/coarse-structures.js';
import type { ProposedSurface } from '../from-scan/proposed-surface.js';
import type { ScanProgress } from '../from-scan/scan-progress.js';
import { scanInput, scanOfCase } from '../scan/scan-of-case.js';
import { hashOfFile } from '../input/hash-of-file.js';
import { SideWork } from '../surfaces/side-work.js';

export interface MeasureCaseOptions {
  /** A folder that may hold inputs outside the case folder. */
  root?: string;
  /** A folder of the hospital's own rule files. */
  rules?: string;
  /** Reads only the headers of the CT series unless a surface is made from it, for commands whose outputs list no inputs. */
  headersOnly?: boolean;
  /** Progress callback for making a surface from the scan. */
  startProgress?: () => Promise<ScanProgress>;
}

/** A case with its surfaces read and measured. */
export interface MeasuredCase {
  case: Case;
  onDisk: CaseOnDisk;
  rules: Rules;
  lesion: LesionMeasure;
  structures: Structure[];
  /** The part of the scan around the lesion, for pictures. */
  grey?: GreyVolume;
  /** The findings, once the search for crossing triangles is done; await it late, because the search runs in parallel. */
  findings(): Promise<Finding[]>;
  /** Every file that was read, for the provenance. */
  inputs: Result['inputs'];
  /** The CT series, and whether the surfaces match it. */
  scan: NonNullable<Result['scan']>;
  frame: NonNullable<Result['frame']>;
  /** Missed vessels, and parts of the surfaces without contrast agent, if the surfaces match the scan. */
  missed?: LesionInScan['missed'];
  uncontrasted?: LesionInScan['uncontrasted'];
  /** The surface, if it was made from the scan. */
  proposed?: ProposedSurface;
}

/**
 * Reads a case and measures its surfaces. Throws InputFailure (2, 3) for inputs that cannot be used; anything that cannot be measured is
 * absent from `lesion` and explained in `findings`.
 */
export async function measureCase(path: string, options: MeasureCaseOptions = {}): Promise<MeasuredCase> {
  return measureRead(await readCase(path, { root: options.root }), options);
}

/** The same for a case that has been read. */
export async function measureRead(
  onDisk: CaseOnDisk,
  options: MeasureCaseOptions = {},
): Promise<MeasuredCase> {
  const { rulesInForce } = await import('../../rules/rules-in-force.js');
  const rules = await rulesInForce(options.rules);
  const seen = await inStage('scan', () => scanOfCase(onDisk.case, onDisk.typed, rules));
  const side = new SideWork();
  const { surfaces } = seen.case;
  const volume =
    options.headersOnly && !surfaces?.fromScan ? undefined : await inStage('scan', () => seen.open?.voxels());
  const given = await measureGiven(seen.case, { onDisk, options, rules, side, volume });
  const { case: patientCase, measured, proposed } = given;
  const before = given.amended([...rules.findings, ...onDisk.findings, ...seen.findings]);
  const after = surfaces ? unknownResolution(patientCase) : [];
  const witnessed = options.headersOnly
    ? unwitnessed(measured)
    : await inStage('scan', () => witnessOf(patientCase, measured, volume, rules));
  after.push(...witnessed.findings);
  const { frame } = witnessed;
  const shown = await inStage('print', () => coarseStructures(measured.structures, side));
  after.push(...shown.findings);
  return {
    grey:
      volume && !options.headersOnly ? await croppedFor(shown.structures, volume, patientCase) : undefined,
    case: patientCase,
    onDisk,
    rules,
    lesion: { ...measured.lesion, vessels: witnessed.vessels },
    structures: shown.structures,
    findings: async () => {
      const crossings = await Promise.all(measured.crossings.map((found) => found()));
      return [...before, ...given.findings, ...measured.findings, ...crossings.flat(), ...after];
    },
    inputs: await inStage('read', () => inputsOf(onDisk, volume)),
    scan: seen.scan && { ...seen.scan, ...(witnessed.blurMm && { blur_mm: witnessed.blurMm }) },
    frame,
    missed: witnessed.missed,
    uncontrasted: witnessed.uncontrasted,
    proposed,
  };
}

interface GivenContext {
  onDisk: CaseOnDisk;
  options: MeasureCaseOptions;
  rules: Rules;
  side: SideWork;
  volume: GreyVolume | undefined;
}

/** The measured surfaces of a case, in whatever form the case gives them. */
interface Given {
  /** The case, completed from its label map. */
  case: Case;
  measured: Measured;
  /** Findings from making the surface, before it was measured. */
  findings: Finding[];
  /** Earlier findings without those that the label map answers. */
  amended(findings: readonly Finding[]): readonly Finding[];
  proposed?: ProposedSurface;
}

async function measureGiven(patientCase: Case, context: GivenContext): Promise<Given> {
  const { rules, side } = context;
  const { surfaces } = patientCase;
  const asGiven = { case: patientCase, findings: [], amended: (findings: readonly Finding[]) => findings };
  if (!surfaces) {
    const text = 'The case names no surfaces: nothing was measured on the lesion.';
    return {
      ...asGiven,
      measured: {
        lesion: { vessels: [], neighbours: [] },
        structures: [],
        findings: [],
        crossings: [],
      },
      findings: [finding('caution', 'surfaces-absent', 'surfaces', text)],
    };
  }
  if (surfaces.parts) {
    const parts = await loadParts(patientCase);
    return { ...asGiven, measured: await measurePartsOf(patientCase, parts, rules, side) };
  }
  if (surfaces.whole) {
    const { mesh, ends, sac, path } = surfaces.whole;
    const surface = await load(patientCase, 'whole', mesh, undefined);
    const whole = { surface, shown: mesh.relative, ends, sac, path };
    return { ...asGiven, measured: await measureWholeOf(patientCase, whole, rules, side) };
  }
  if (surfaces.fromScan)
    return { ...asGiven, ...(await measureFromScan(patientCase, surfaces.fromScan, context)) };
  const { labelledParts } = await import('./labelled-parts.js');
  const labelled = await labelledParts(patientCase);
  const { scan } = labelled.case;
  const scanned = { ...labelled.case, scan: { ...scan, ...labelled.resolution } };
  return {
    case: labelled.case,
    measured: await measurePartsOf(scanned, labelled.parts, rules, side),
    findings: [],
    amended: labelled.amended,
  };
}

async function measureFromScan(
  patientCase: Case,
  fromScan: FromScan,
  { onDisk, options, rules, side, volume }: GivenContext,
): Promise<Pick<Given, 'measured' | 'findings' | 'proposed'>> {
  const { LESION_FILE, proposedSurface } = await import('../from-scan/proposed-surface.js');
  const { typed } = onDisk;
  if (!volume) throw new RangeError('a case with from_scan names a series');
  const progress = await options.startProgress?.();
  let proposed: ProposedSurface;
  try {
    proposed = inStage('scan', () =>
      proposedSurface(patientCase, fromScan, { typed, volume, rules, onProgress: progress?.step }),
    );
  } finally {
    progress?.close();
  }
  const places = new Map(proposed.result.ends.map(({ name, point_mm }) => [name, point_mm]));
  const ends = fromScan.ends.map((end) => ({ ...end, at: places.get(end.name) ?? end.at }));
  const { sac, path } = fromScan;
  const { surface, findings } = proposed;
  const whole = { surface, shown: LESION_FILE, ends, sac, path };
  return { measured: await measureWholeOf(patientCase, whole, rules, side), findings, proposed };
}

function unknownResolution({ scan }: Case): Finding[] {
  if (scan.sliceThicknessMm !== undefined || scan.inPlaneMm !== undefined) return [];
  const text =
    'The case gives no slice thickness and in-plane spacing: the intervals include only the scatter of the sections and the facets of the surface.';
  return [finding('caution', 'resolution-unknown', 'scan', text)];
}

async function croppedFor(
  structures: readonly Structure[],
  volume: GreyVolume,
  { surfaces }: Case,
): Promise<GreyVolume | undefined> {
  const { pictureCrop } = await import('../scan/picture-crop.js');
  return pictureCrop(structures, volume, surfaces?.frame ?? 'unknown');
}

/** The measurements, in the order of the result; the search for `crossings` may still be running. */
type Measured = Pick<MeasuredCase, 'lesion' | 'structures'> & {
  findings: Finding[];
  crossings: (() => Promise<Finding[]>)[];
};

/** The surfaces compared with the scan; not compared if either is missing. */
async function witnessOf(
  patientCase: Case,
  { structures, lesion }: Measured,
  volume: GreyVolume | undefined,
  rules: Rules,
): Promise<LesionInScan> {
  const surfaces = bloodSurfaces(structures);
  if (!volume || !patientCase.surfaces || surfaces.length === 0) return unwitnessed({ lesion });
  const { lesionInScan } = await import('../../witness/lesion-in-scan.js');
  const { frame } = patientCase.surfaces;
  return lesionInScan(
    { surfaces, vessels: lesion.vessels, frame, side: patientCase.lesion.side },
    volume,
    rules,
  );
}

const unwitnessed = ({ lesion }: Pick<Measured, 'lesion'>): LesionInScan => ({
  frame: { verdict: 'unchecked' },
  vessels: lesion.vessels,
  findings: [],
});

function scanFrame(patientCase: Case): ScanFrame {
  const { scan, surfaces } = patientCase;
  return {
    scan: { sliceThicknessMm: scan.sliceThicknessMm, inPlaneMm: scan.inPlaneMm },
    hasAxes: surfaces !== undefined && surfaces.frame !== 'unknown',
  };
}

async function load(
  patientCase: Case,
  label: string,
  mesh: InputPath,
  object: string | undefined,
): Promise<LoadedSurface> {
  const { loadSurface } = await import('../../mesh/load-surface.js');
  return loadSurface(mesh.absolute, {
    checkSelfIntersection: false,
    unitMm: patientCase.surfaces!.unitMm,
    mendMm: patientCase.surfaces!.mendMm,
    object,
    label,
    shown: mesh.relative,
  });
}

/** The surface of each structure that has its own file or object. */
async function loadParts(patientCase: Case): Promise<LoadedPart[]> {
  const loaded: LoadedPart[] = [];
  for (const part of patientCase.surfaces?.parts ?? []) {
    const surface = await load(patientCase, part.name, part.mesh, part.object);
    loaded.push({ part, surface, shown: part.mesh.relative });
  }
  return loaded;
}

async function measurePartsOf(
  patientCase: Case,
  given: readonly LoadedPart[],
  rules: Rules,
  side: SideWork,
): Promise<Measured> {
  const { measurePrepared, prepareParts } = await import('../../geometry/lesion-of-parts.js');
  const surfaces = patientCase.surfaces!;
  const prepared = inStage('topology', () => prepareParts(given, surfaces, rules.measure.pieceShare));
  const { structures, lumens } = prepared;
  for (const { mesh, twin } of structures) side.beginCopy(mesh, twin);
  const crossings = inStage('topology', () =>
    lumens.map(({ part, surface }) => side.beginCrossings(surface.mesh, part.name)),
  );
  const measured = inStage('sections', () =>
    measurePrepared(prepared, rules.measure, scanFrame(patientCase), surfaces.frame),
  );
  const findings = [...prepared.findings, ...measured.findings];
  return { lesion: measured.lesion, structures: [...structures], findings, crossings };
}

async function measureWholeOf(
  patientCase: Case,
  given: WholeGiven,
  rules: Rules,
  side: SideWork,
): Promise<Measured> {
  const { measurePreparedWhole, prepareWhole } = await import('../../geometry/lesion-of-whole.js');
  const surfaces = patientCase.surfaces!;
  const prepared = inStage('topology', () => prepareWhole(given, surfaces));
  const { closed, lumen } = prepared;
  if (closed) side.beginCopy(closed.mesh, closed.twin);
  const crossings = closed ? [inStage('topology', () => side.beginCrossings(lumen.mesh, 'whole'))] : [];
  const measured = inStage('sections', () =>
    measurePreparedWhole(prepared, given, {
      ...surfaces,
      definitions: rules.measure,
      scan: scanFrame(patientCase),
      locate: patientCase.locate,
    }),
  );
  return { ...measured, crossings };
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
    rows.push({ path, ...(await hashOfFile(input.absolute)) });
  }
  if (volume) rows.push(scanInput(onDisk.case.scan.series!.relative, volume));
  return rows;
}
