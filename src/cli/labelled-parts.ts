import type { Case, LabelPart } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { quoted } from '../foundation/quoted-text.js';
import { prepareSurface } from '../mesh/load-surface.js';
import { refuse } from '../mesh/read/mesh-file.js';
import type { LabelMap, VoxelGrid, VoxelRuns } from '../volume/label-map.js';
import { labelSurface } from '../volume/label-surface.js';
import { readLabelMap } from '../volume/read-label-map.js';
import type { LoadedPart } from './loaded-part.js';

/** The structures of a case's label map as surfaces, and what the map says about the scan. */
export interface LabelledParts {
  /** The case with the axes and the resolution of the map, where it left them open. */
  case: Case;
  parts: LoadedPart[];
  /** The findings of the case file with those that the map answers taken out and its own added. */
  amended(findings: readonly Finding[]): Finding[];
}

/** Reads the label map of a case and makes a closed surface of each structure. Throws `InputFailure` (3). */
export async function labelledParts(subject: Case): Promise<LabelledParts> {
  const { unitMm, labels } = subject.surfaces!;
  const { file, parts } = labels!;
  const shown = file.relative;
  const map = await readLabelMap(file.absolute, {
    shown,
    unitMm,
    wanted: (names) => parts.map((part) => numberOf(part, names, shown)),
  });
  const runsOf = (part: LabelPart): VoxelRuns => map.labels.get(numberOf(part, map.names, shown))!;
  for (const part of parts) if (runsOf(part).voxels === 0) refuseEmpty(part, map, shown);
  const placed = placedFor(subject, map.grid);
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
      : 'This kind of file names no labels: write the number of the label',
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
      : 'The file holds no label',
  );
}

/** What a vessel opens into: a feeder or drain the sac, a branch its parent. */
function joinedTo(part: LabelPart, parts: readonly LabelPart[]): LabelPart[] {
  if (part.role === 'branch') return parts.filter(({ name }) => name === part.of);
  const isTube = part.role === 'feeder' || part.role === 'drain' || part.role === 'systemic-feeder';
  return isTube ? parts.filter(({ role }) => role === 'sac') : [];
}

const touchesRim = (runs: VoxelRuns, grid: VoxelGrid): boolean =>
  [0, 1, 2].some((k) => runs.low[k] === 0 || runs.high[k] === grid.sizes[k] - 1);

interface Placed {
  case: Case;
  grid: VoxelGrid;
  /** Findings of the case file that the map answers. */
  answers: Set<string>;
  findings: Finding[];
}

/** Axes of the patient and resolution from the map, where the case does not state them; the map in the axes of the case. */
function placedFor(subject: Case, grid: VoxelGrid): Placed {
  const surfaces = subject.surfaces!;
  const answers = new Set<string>();
  const findings = grid.notes.map((text) => finding('note', 'label-map-header', 'surfaces.labels', text));
  let { frame } = surfaces;
  if (grid.isOriented && frame === 'unknown') {
    frame = 'LPS';
    answers.add('frame-assumed');
  }
  const scan = { ...subject.scan };
  if (scan.sliceThicknessMm === undefined && scan.inPlaneMm === undefined) {
    const { sliceMm, inPlaneMm } = voxelOf(grid);
    scan.sliceThicknessMm = sliceMm;
    scan.inPlaneMm = inPlaneMm;
    const text = `The case gives no slice thickness and in-plane spacing: the voxels of the label map were taken, ${fixed(sliceMm, 2)} mm and ${fixed(inPlaneMm, 2)} mm. The scan itself may be coarser; state it.`;
    findings.push(finding('note', 'resolution-from-labels', 'scan', text));
  }
  return {
    case: { ...subject, scan, surfaces: { ...surfaces, frame } },
    grid: grid.isOriented && frame === 'RAS' ? turnedAbout(grid) : grid,
    answers,
    findings,
  };
}

/** Between LPS and RAS: the first two coordinates change their sign. */
function turnedAbout(grid: VoxelGrid): VoxelGrid {
  const turn = ([x, y, z]: readonly number[]): [number, number, number] => [-x, -y, z];
  return { ...grid, origin: turn(grid.origin), axes: grid.axes.map(turn) };
}

/** The axis that runs most along the body is that of the slices; the wider of the other two steps is the in-plane spacing. */
function voxelOf({ axes }: VoxelGrid): { sliceMm: number; inPlaneMm: number } {
  const steps = axes.map((axis) => Math.hypot(...axis));
  const along = axes.map((axis, i) => Math.abs(axis[2]) / steps[i]);
  const slice = along.indexOf(Math.max(...along));
  return { sliceMm: steps[slice], inPlaneMm: Math.max(...steps.filter((_, i) => i !== slice)) };
}
