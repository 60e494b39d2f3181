import type { Case, LabelPart } from '../../case/case.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { fixed } from '../../foundation/number-text.js';
import { quoted } from '../../foundation/quoted-text.js';
import { otherAxes } from '../../foundation/vector.js';
import type { ScanResolution } from '../../geometry/measure.js';
import { prepareSurface } from '../../mesh/load-surface.js';
import { refuse } from '../../mesh/read/mesh-file.js';
import type { LabelMap, VoxelGrid, VoxelRuns } from '../../volume/label-map.js';
import { labelSurface } from '../../volume/label-surface.js';
import { readLabelMap } from '../../volume/read-label-map.js';
import type { LoadedPart } from '../../geometry/loaded-part.js';

/** The structures of a case's label map as surfaces, and the map's information on the scan. */
export interface LabelledParts {
  /** The case, with axes and resolution from the map if it does not state them. */
  case: Case;
  /** Resolution for the intervals: the coarser of the case's resolution and the map's voxels. */
  resolution: ScanResolution;
  parts: LoadedPart[];
  /** The findings of the case file, without those that the map answers, plus those on the map. */
  amended(findings: readonly Finding[]): Finding[];
}

/** Reads the label map of a case and makes a closed surface of each structure. Throws `InputFailure` (3). */
export async function labelledParts(patientCase: Case): Promise<LabelledParts> {
  const { unitMm, labels } = patientCase.surfaces!;
  const { file, parts } = labels!;
  const shown = file.relative;
  const map = await readLabelMap(file.absolute, {
    shown,
    unitMm,
    wanted: (names) => parts.map((part) => numberOf(part, names, shown)),
  });
  const runsOf = (part: LabelPart): VoxelRuns => map.labels.get(numberOf(part, map.names, shown))!;
  if (map.imageBecause) refuse(shown, '', map.imageBecause, 'Give the label map, not the image');
  refuseWithoutSide(patientCase, map.grid, shown);
  for (const part of parts) if (runsOf(part).voxels === 0) refuseEmpty(part, map, shown);
  const placed = placedFor(patientCase, map.grid);
  const findings = [...placed.findings];
  const loaded = parts.map((part): LoadedPart => {
    const mesh = labelSurface(placed.grid, runsOf(part), joinedTo(part, parts).map(runsOf));
    const object = { name: part.name, mesh };
    const surface = prepareSurface(
      { format: 'label-map', objects: [object], unitMm: 1, notes: [] },
      { label: part.name, shown, checkSelfIntersection: false },
    );
    if (part.role === 'sac' && touchesRim(runsOf(part), map.grid))
      findings.push(
        finding(
          'caution',
          'label-at-rim',
          part.name,
          'The sac reaches the edge of the label map and may be cut off there: its volume and size are then too small. Segment on the whole scan.',
        ),
      );
    return { part, surface, shown };
  });
  return {
    case: placed.case,
    resolution: placed.resolution,
    parts: loaded,
    amended: (before) => [...before.filter(({ id }) => !placed.answers.has(id)), ...findings],
  };
}

function numberOf(part: LabelPart, names: ReadonlyMap<string, number>, shown: string): number {
  if (typeof part.label === 'number') return part.label;
  const number = names.get(part.label);
  if (number !== undefined) return number;
  const known = [...names.keys()].slice(0, 20).map((name) => quoted(name));
  return refuse(
    shown,
    '',
    `it has no label of the name ${quoted(part.label)} (${part.name})`,
    known.length > 0
      ? `Its names are ${known.join(', ')}`
      : 'It names no labels: write the number of the label',
  );
}

/** A map without patient axes may be mirrored, so it must not be used to determine a side. */
export function refuseWithoutSide(patientCase: Case, grid: VoxelGrid, shown: string): void {
  const { side } = patientCase.lesion;
  if (grid.isOriented || side === undefined) return;
  refuse(
    shown,
    'header',
    `it does not state its patient axes, and the case asks for a side (lesion.side: ${side}): left and right may be swapped`,
    'Export it with its orientation (NIfTI: sform or qform; NRRD: space and space directions)',
  );
}

function refuseEmpty(part: LabelPart, map: LabelMap, shown: string): never {
  return refuse(
    shown,
    '',
    `no voxel has the label ${typeof part.label === 'number' ? part.label : quoted(part.label)} (${part.name})`,
    map.present.length > 0
      ? `The file holds the labels ${map.present
          .slice(0, 20)
          .map(({ label }) => label)
          .join(', ')}`
      : 'The file contains no label',
  );
}

/** The structure that a vessel opens into: the sac for a feeder or drain, the parent for a branch. */
function joinedTo(part: LabelPart, parts: readonly LabelPart[]): LabelPart[] {
  if (part.role === 'branch') return parts.filter(({ name }) => name === part.of);
  const isTube = part.role === 'feeder' || part.role === 'drain' || part.role === 'systemic-feeder';
  return isTube ? parts.filter(({ role }) => role === 'sac') : [];
}

const touchesRim = (runs: VoxelRuns, grid: VoxelGrid): boolean =>
  (grid.mayGoOn ? [0, 1] : [0, 1, 2]).some((k) => runs.low[k] === 0 || runs.high[k] === grid.sizes[k] - 1);

interface Placed {
  case: Case;
  resolution: ScanResolution;
  grid: VoxelGrid;
  /** Findings of the case file that the map answers. */
  answers: Set<string>;
  findings: Finding[];
}

/** Patient axes and resolution from the map if the case does not state them; the map in the axes of the case. */
function placedFor(patientCase: Case, grid: VoxelGrid): Placed {
  const surfaces = patientCase.surfaces!;
  const answers = new Set<string>();
  const findings = grid.notes.map((text) => finding('note', 'label-map-header', 'surfaces.labels', text));
  let { frame } = surfaces;
  if (grid.isOriented && frame === 'unknown') {
    frame = 'LPS';
    answers.add('frame-assumed');
  }
  const { sliceMm, inPlaneMm } = voxelOf(grid);
  const ofMap = `${fixed(sliceMm, 2)} mm (slices) and ${fixed(inPlaneMm, 2)} mm (in plane)`;
  const stated = resolutionOf(patientCase);
  const resolution = { sliceThicknessMm: sliceMm, inPlaneMm };
  let { scan } = patientCase;
  if (!stated) {
    scan = { ...scan, ...resolution };
    const text = `The case gives no slice thickness and in-plane spacing: the voxels of the label map were taken, ${ofMap}. The scan itself may be coarser; state it.`;
    findings.push(finding('note', 'resolution-from-labels', 'scan', text));
  } else {
    resolution.sliceThicknessMm = Math.max(sliceMm, stated.sliceMm);
    resolution.inPlaneMm = Math.max(inPlaneMm, stated.inPlaneMm);
    const isCoarser = sliceMm > COARSER * stated.sliceMm || inPlaneMm > COARSER * stated.inPlaneMm;
    if (isCoarser) {
      const text = `The voxels of the label map, ${ofMap}, are coarser than the resolution that the case states, ${fixed(stated.sliceMm, 2)} mm and ${fixed(stated.inPlaneMm, 2)} mm: the intervals use the coarser of each, ${fixed(resolution.sliceThicknessMm, 2)} mm and ${fixed(resolution.inPlaneMm, 2)} mm.`;
      findings.push(finding('note', 'resolution-from-labels', 'scan', text));
    }
  }
  return {
    case: { ...patientCase, scan, surfaces: { ...surfaces, frame } },
    resolution,
    grid: grid.isOriented && frame === 'RAS' ? turnedAbout(grid) : grid,
    answers,
    findings,
  };
}

/** Numbers in a header may be rounded: a map counts as coarser than the scan from this ratio of voxel sizes. */
const COARSER = 1.02;

/** The resolution stated in the case; a single number is used for both. */
function resolutionOf({ scan }: Case): { sliceMm: number; inPlaneMm: number } | undefined {
  const sliceMm = scan.sliceThicknessMm ?? scan.inPlaneMm;
  const inPlaneMm = scan.inPlaneMm ?? scan.sliceThicknessMm;
  return sliceMm === undefined || inPlaneMm === undefined ? undefined : { sliceMm, inPlaneMm };
}

/** The grid in the other of LPS and RAS. */
const turnedAbout = (grid: VoxelGrid): VoxelGrid => ({
  ...grid,
  origin: otherAxes(grid.origin),
  axes: grid.axes.map(otherAxes),
});

/** The axis closest to the body's long axis is that of the slices; the larger of the other two steps is the in-plane spacing. */
function voxelOf({ axes }: VoxelGrid): { sliceMm: number; inPlaneMm: number } {
  const steps = axes.map((axis) => Math.hypot(...axis));
  const along = axes.map((axis, i) => Math.abs(axis[2]) / steps[i]);
  const slice = along.indexOf(Math.max(...along));
  return { sliceMm: steps[slice], inPlaneMm: Math.max(...steps.filter((_, i) => i !== slice)) };
}
