import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { quoted } from '../foundation/quoted-text.js';
import { inStage } from '../foundation/stage.js';
import { pairEdges } from './edge-pairing.js';
import { type BoundingBox, boundingBox } from './measures.js';
import { type Mended, mendCracks } from './mend.js';
import type { MendedCrack } from './mended-crack.js';
import type { TriangleMesh } from './mesh.js';
import { type OrientResult, orient } from './orient.js';
import { plural, point, pointOf } from './place-text.js';
import { type MeshFile, refuse } from './read/mesh-file.js';
import { readMeshFile } from './read/read-mesh-file.js';
import { refuseScattered, rimEdgeCount } from './scattered.js';
import { findSelfIntersections, type SelfIntersections } from './self-intersection.js';
import { sharedSurface } from './shared-arrays.js';
import { surfaceFindings } from './surface-findings.js';
import { buildTopology, type Topology } from './topology.js';
import { scaled } from './transform.js';
import { type WeldResult, weld, withoutCopies } from './weld.js';

export interface LoadOptions {
  /** Millimetres per coordinate unit, from the case; default: the unit stated in the file. */
  unitMm?: number;
  /** Take only this object of the file. */
  object?: string;
  /** The structure's name in findings. */
  label: string;
  /** The path shown in messages. */
  shown?: string;
  /** Search for crossing triangles (about 1 µs per triangle); default true. */
  checkSelfIntersection?: boolean;
  /** Close cracks up to this width, mm; default none. */
  mendMm?: number;
}

/** A surface ready to be measured: welded, oriented outwards, in mm. */
export interface LoadedSurface {
  mesh: TriangleMesh;
  topology: Topology;
  findings: Finding[];
  format: MeshFile['format'];
  /** The unit used, mm per coordinate unit. */
  unitMm: number;
  /** Closed components inside another body whose volume counts as a cavity. */
  cavities: number[];
  /** The component that contains each of these. */
  hosts: ReadonlyMap<number, number>;
  /** Volume that each component encloses, open ends closed by fans, mm³; negative for a cavity. */
  componentVolumesMm3: Float64Array;
  /** What was left out or flipped while loading. */
  repairs: Repairs;
  /** Cracks that were closed, widest first. */
  mended: MendedCrack[];
  /** Absent if not searched for. */
  selfIntersections?: SelfIntersections;
}

/** Counts of the changes made while reading. */
export interface Repairs {
  /** Triangles with two coincident corners, left out. */
  collapsedTriangles: number;
  /** Second copies of a triangle, left out. */
  duplicateTriangles: number;
  /** Single triangles turned to agree with their neighbours. */
  turnedTriangles: number;
  /** Connected parts turned as a whole. */
  turnedComponents: number;
  /** Vertices joined within the rounding of a 32-bit float. */
  nearVertices: number;
}

/** Longest edge of the bounding box that a structure of the chest can have, mm. Common practice, no source. */
const ANATOMICAL_RANGE_MM = [0.5, 600] as const;

/**
 * A longer surface is refused: no segmentation mistake makes a lesion larger than any body, but a wrong unit does, and measuring it every
 * millimetre could take hours. Common practice, no source.
 */
const LONGEST_MM = 10 * ANATOMICAL_RANGE_MM[1];

/** Beyond these a surface cannot be processed: areas and volumes would overflow or underflow. */
const FARTHEST_MM = 1e9;
const SMALLEST_MM = 1e-6;

const UNIT_NAMES: [string, number][] = [
  ['mm', 1],
  ['cm', 10],
  ['m', 1000],
  ['inch', 25.4],
  ['micrometre', 0.001],
];

/** Reads, welds, orients and examines one surface. Throws `InputFailure` (3) if the file cannot be used. */
export async function loadSurface(path: string, options: LoadOptions): Promise<LoadedSurface> {
  const file = await readMeshFile(path, options);
  const shown = options.shown ?? path;
  return inStage('topology', () => prepareSurface(file, { ...options, shown, mostMm: LONGEST_MM }));
}

/**
 * The part of `loadSurface` after reading: turns the objects of a file into one examined surface. A surface longer than `mostMm` is
 * refused.
 */
export function prepareSurface(
  file: MeshFile,
  options: LoadOptions & { shown: string; mostMm?: number },
): LoadedSurface {
  const { label, shown } = options;
  const findings: Finding[] = [];
  const unitMm = options.unitMm ?? file.unitMm;
  if (unitMm === undefined)
    return refuse(shown, '', 'the file states no unit', 'State the unit of the coordinates');
  if (file.unitMm !== undefined && Math.abs(file.unitMm - unitMm) > 1e-9 * unitMm) {
    const text =
      `The ${formatName(file.format)} states ${unitName(file.unitMm)} as its unit, the case ${unitName(unitMm)}. ` +
      `The case's unit was used. Make sure that it is right: sizes depend on it.`;
    findings.push(finding('caution', 'unit-disagrees', label, text));
  }
  if (file.objects.length > 1) {
    const names = file.objects.slice(0, 10).map((o) => quoted(o.name));
    const text =
      `All ${file.objects.length} objects of ${shown} were taken as one surface: ${names.join(', ')}` +
      `${file.objects.length > 10 ? ' and more' : ''}. Name one with "object" if only that is meant.`;
    findings.push(finding('caution', 'several-objects', label, text));
  }
  const raw = scaled(joined(file), unitMm);
  checkReach(boundingBox(raw), shown);
  const repairs: Repairs = {
    collapsedTriangles: 0,
    duplicateTriangles: 0,
    turnedTriangles: 0,
    turnedComponents: 0,
    nearVertices: 0,
  };
  const isJoined = file.format.startsWith('stl') && file.objects.length === 1;
  const welded = weldWhereNeeded(
    isJoined ? withoutCopies(raw) : inStage('weld', () => weld(raw)),
    raw,
    { label, shown },
    findings,
    repairs,
  );
  if (welded.mesh.triangles.length === 0) {
    return refuse(shown, '', 'all its triangles have two corners in one point', 'Export the surface again');
  }
  const examined = examineAndOrient(welded, options, findings, repairs);
  const selfIntersections =
    (options.checkSelfIntersection ?? true) ? findSelfIntersections(examined.mesh) : undefined;
  if (selfIntersections) findings.push(...crossingFindings(selfIntersections, label));
  checkUnit(boundingBox(examined.mesh), unitMm, options, findings);
  const surface = { ...examined, findings, format: file.format, unitMm, repairs };
  return selfIntersections ? { ...surface, selfIntersections } : surface;
}

function checkReach({ min, max, size }: BoundingBox, shown: string): void {
  const reachMm = Math.max(...min.map(Math.abs), ...max.map(Math.abs));
  const longestMm = Math.max(...size);
  const what =
    reachMm > FARTHEST_MM
      ? `its coordinates reach ${reachMm.toPrecision(3)} mm, farther than the ${FARTHEST_MM} mm`
      : longestMm < SMALLEST_MM
        ? `it is ${longestMm.toPrecision(3)} mm long, less than the ${SMALLEST_MM} mm`
        : undefined;
  if (what) refuse(shown, '', `${what} that can be computed with`, 'Check unit and transforms');
}

function joined(file: MeshFile): TriangleMesh {
  if (file.objects.length === 1) return file.objects[0].mesh;
  let vertices = 0;
  let corners = 0;
  for (const { mesh } of file.objects) {
    vertices += mesh.positions.length;
    corners += mesh.triangles.length;
  }
  const positions = new Float64Array(vertices);
  const triangles = new Uint32Array(corners);
  let p = 0;
  let t = 0;
  for (const { mesh } of file.objects) {
    positions.set(mesh.positions, p);
    for (let i = 0; i < mesh.triangles.length; i++) triangles[t++] = mesh.triangles[i] + p / 3;
    p += mesh.positions.length;
  }
  return { positions, triangles };
}

/** Joins equal vertices and, if open ends remain, those within the rounding of a 32-bit float. */
function weldWhereNeeded(
  exact: WeldResult,
  raw: TriangleMesh,
  { label, shown }: { label: string; shown: string },
  findings: Finding[],
  repairs: Repairs,
): { mesh: TriangleMesh; topology: Topology } {
  repairs.collapsedTriangles = exact.collapsedTriangles.length;
  repairs.duplicateTriangles = exact.duplicateTriangles.length;
  const flat = exact.collapsedTriangles.length;
  if (flat > 0) {
    const text = `${flat} ${plural(flat, 'triangle has', 'triangles have')} two corners in one point and ${plural(flat, 'was', 'were')} left out, the first at ${pointOf(raw, exact.collapsedTriangles[0])}.`;
    findings.push(finding('note', 'degenerate-triangles', label, text));
  }
  const copies = exact.duplicateTriangles.length;
  if (copies > 0) {
    const text = `${copies} ${plural(copies, 'triangle is', 'triangles are')} in the file twice and the copies were left out, the first at ${pointOf(raw, exact.duplicateTriangles[0])}.`;
    findings.push(finding('note', 'duplicate-triangles', label, text));
  }
  const box = boundingBox(exact.mesh);
  const reach = Math.max(...box.max.map(Math.abs), ...box.min.map(Math.abs));
  const toleranceMm = Math.max(4 * reach * 2 ** -24, 1e-6 * Math.hypot(...box.size));
  const pairing = exact.pairing ?? pairEdges(exact.mesh);
  const openBefore = rimEdgeCount(pairing);
  const asIs = (): { mesh: TriangleMesh; topology: Topology } => {
    refuseScattered(pairing, shown);
    return { mesh: exact.mesh, topology: buildTopology(exact.mesh, pairing) };
  };
  if (openBefore === 0 || toleranceMm === 0) return asIs();
  const near = inStage('weld', () => weld(exact.mesh, toleranceMm));
  if (near.mergedVertices === 0) return asIs();
  const nearPairing = pairEdges(near.mesh);
  const openAfter = rimEdgeCount(nearPairing);
  if (openAfter >= openBefore) return asIs();
  refuseScattered(nearPairing, shown);
  repairs.nearVertices = near.mergedVertices;
  const text = `${near.mergedVertices} vertices were joined to a neighbour no more than ${toleranceMm.toPrecision(2)} mm away (rounding in the file): open edges ${openBefore} before, ${openAfter} after.`;
  findings.push(finding('note', 'welded-with-tolerance', label, text));
  return { mesh: near.mesh, topology: buildTopology(near.mesh, nearPairing) };
}

function examineAndOrient(
  { mesh: welded, topology: before }: { mesh: TriangleMesh; topology: Topology },
  { label, mendMm }: LoadOptions,
  findings: Finding[],
  repairs: Repairs,
): Pick<LoadedSurface, 'mesh' | 'topology' | 'cavities' | 'hosts' | 'componentVolumesMm3' | 'mended'> {
  let oriented = orient(welded, before);
  repairs.turnedTriangles = oriented.disagreeingTriangles.length;
  repairs.turnedComponents = oriented.turnedComponents.length;
  const turned = oriented.turnedComponents.length + oriented.disagreeingTriangles.length > 0;
  let topology = turned ? buildTopology(oriented.mesh) : before;
  let mended: MendedCrack[] = [];
  if (mendMm !== undefined && topology.loops.length > 0) {
    const closed = mendCracks(oriented.mesh, topology, mendMm);
    mended = closed.cracks;
    if (mended.length > 0) {
      // pieces that were joined now have an inside
      oriented = { ...orient(closed.mesh, closed.topology), ...turnedAtFirst(oriented) };
      topology = buildTopology(oriented.mesh);
      findings.push(mendedFinding(closed, mendMm, label));
    }
  }
  findings.push(...surfaceFindings(oriented, topology, label));
  const { mesh, cavities, hosts, componentVolumesMm3 } = oriented;
  return sharedSurface({ mesh, topology, cavities, hosts, componentVolumesMm3, mended });
}

/** The changes of the first orientation. */
function turnedAtFirst({
  turnedComponents,
  disagreeingTriangles,
}: OrientResult): Pick<OrientResult, 'turnedComponents' | 'disagreeingTriangles'> {
  return { turnedComponents, disagreeingTriangles };
}

/** The finding on closed cracks, with widths and places; the result lists each crack. */
function mendedFinding({ cracks, addedTriangles }: Mended, mendMm: number, label: string): Finding {
  const count = cracks.length;
  const places = cracks
    .slice(0, 5)
    .map(({ point: [x, y, z], widthMm }) => `${fixed(widthMm, 2)} mm at ${point(x, y, z)}`);
  const text = `${count} ${plural(count, 'crack', 'cracks')} up to ${fixed(cracks[0].widthMm, 2)} mm wide ${plural(count, 'was', 'were')} closed (surfaces.mend: ${mendMm} mm) with ${addedTriangles} new triangles; no vertex was moved (0.00 mm). ${count > 5 ? 'The widest' : 'They are'}: ${places.join('; ')}.`;
  return finding('caution', 'cracks-mended', label, text);
}

/** The finding on crossing triangles of the structure `label`, if there are any. */
export function crossingFindings(found: SelfIntersections, label: string): Finding[] {
  if (found.count > 0) {
    const atLeast = found.isCapped || !found.isComplete ? 'at least ' : '';
    const text = `${atLeast}${found.count} ${plural(found.count, 'pair', 'pairs')} of triangles cross each other, the first at ${point(...found.points[0])}. Volume is counted twice where the surface overlaps itself; repair it.`;
    return [finding('caution', 'self-intersection', label, text)];
  }
  if (found.isComplete) return [];
  const text =
    'The triangles overlap so densely that the search for crossings was given up without an answer.';
  return [finding('caution', 'self-intersection-unknown', label, text)];
}

function checkUnit(
  box: BoundingBox,
  unitMm: number,
  { label, shown, mostMm = Number.POSITIVE_INFINITY }: { label: string; shown: string; mostMm?: number },
  findings: Finding[],
): void {
  const longest = Math.max(...box.size);
  const likely = likelyUnits(longest, unitMm);
  if (!likely) return;
  if (longest > mostMm) {
    const hint = likely.length > 0 ? `; its coordinates look like ${likely.join(' or ')}` : '';
    refuse(
      shown,
      '',
      `with ${unitName(unitMm)} as the unit it is ${fixed(longest / 1000, 1)} m long, more than ${fixed(mostMm / 1000, 0)} m${hint}`,
      'Correct the unit of the surfaces',
    );
  }
  const text = `With ${unitName(unitMm)} as the unit the structure is ${box.size.map((x) => x.toPrecision(3)).join(' x ')} mm, outside ${ANATOMICAL_RANGE_MM[0]} to ${ANATOMICAL_RANGE_MM[1]} mm. ${likely.length > 0 ? `The coordinates look like ${likely.join(' or ')}. ` : ''}Check the unit; nothing was rescaled.`;
  findings.push(finding('caution', 'unit-suspect', label, text));
}

/**
 * Undefined if a longest edge of `longestMm` is plausible for a structure of the chest; else the units, likeliest first, in which it would
 * measure 5 to 300 mm (common practice, no source).
 */
export function likelyUnits(longestMm: number, unitMm: number): string[] | undefined {
  if (longestMm >= ANATOMICAL_RANGE_MM[0] && longestMm <= ANATOMICAL_RANGE_MM[1]) return undefined;
  const inFile = longestMm / unitMm;
  return UNIT_NAMES.filter(([, mm]) => inFile * mm >= 5 && inFile * mm <= 300).map(([name]) => name);
}

/** `mm`, `inch`, or the number of mm if it is not a common unit. */
export function unitName(unitMm: number): string {
  return UNIT_NAMES.find(([, mm]) => mm === unitMm)?.[0] ?? `${unitMm} mm`;
}

function formatName(format: MeshFile['format']): string {
  return format === '3mf' ? '3MF file' : format.startsWith('gl') ? 'glTF standard' : 'file';
}
