import { type Finding, finding } from '../foundation/finding.js';
import { rounded } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import type { BoundaryLoop } from './boundary-loops.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from './cap.js';
import { prepareSurface } from './load-surface.js';
import { boundingBox, measure } from './measures.js';
import type { TriangleMesh } from './mesh.js';
import { openingsBySize } from './openings.js';
import type { Topology } from './topology.js';
import type { MeshFile, MeshObject } from './read/mesh-file.js';
import { wallFinding, wallOf } from './wall.js';

/** Description of one object of a mesh file; keys as printed by `--json`. */
export interface ObjectDescription {
  name: string;
  triangles: number;
  vertices: number;
  watertight: boolean;
  /** Absent if the surface does not enclose a volume. */
  volume_ml?: number;
  volume_absent_because?: string;
  area_cm2: number;
  bounding_box_mm: { min: number[]; max: number[]; size: number[] };
  components: { triangles: number; cavity: boolean }[];
  open_ends: OpenEnd[];
  /** Possible ends of vessels, if the object is a fused blood pool; open ends keep their letters. */
  vessel_ends?: VesselEnd[];
  /** The largest ball inside, to one part in a hundred; in a fused blood pool usually the sac. */
  widest_place?: { at: number[]; at_mm: number[]; diameter_mm: number; at_most_mm?: number };
  non_manifold_edges: number;
  self_intersections: { count: number; at_least: boolean; first_mm?: number[] };
  degenerate_triangles: number;
  duplicate_triangles: number;
  turned_triangles: number;
  turned_components: number;
  findings: Finding[];
}

export interface OpenEnd {
  letter: string;
  /** `end`: round, planar and wide enough for the end of a vessel; `crack`: any other opening, including holes. */
  kind: 'end' | 'crack';
  /** In the coordinates of the file, as needed in a case file. */
  at: number[];
  at_mm: number[];
  /** Points out of the opening. */
  direction: number[];
  /** Diameter of the circle of the same area. */
  diameter_mm: number;
  /** Diameter of the largest circle that fits in it; absent if it could not be determined. */
  width_mm?: number;
  perimeter_mm: number;
  /** Largest distance of the rim from its plane. */
  off_plane_mm: number;
  closed_for_volume: boolean;
}

/**
 * Finds the widest place of a surface in mm and proposes its vessel ends, none if it is not a fused blood pool; undefined if no ball fits
 * inside.
 */
export type EndFinder = (
  mesh: TriangleMesh,
  loops: readonly BoundaryLoop[],
) =>
  | {
      ends: readonly {
        letter: string;
        kind: 'open' | 'flat' | 'round' | 'cut';
        at: Vec3;
        direction: Vec3;
        calibreMm: number;
      }[];
      widest: Vec3;
      widestDiameterMm: number;
      widestAtMostMm?: number;
    }
  | undefined;

/** A proposed far end of a vessel. */
export interface VesselEnd {
  letter: string;
  kind: 'open' | 'flat' | 'round' | 'cut';
  /** A little inside the end, in the coordinates of the file, as needed in a case file. */
  at: number[];
  at_mm: number[];
  /** Points out of the vessel. */
  direction: number[];
  /** Equivalent calibre about one calibre inside the end. */
  calibre_mm: number;
}

/** Examines one object. `closeEnds`: close planar open ends before taking the volume; `endsOf` proposes vessel ends. */
export function describeObject(
  file: MeshFile,
  object: MeshObject,
  options: { unitMm: number; shown: string; closeEnds: boolean; endsOf?: EndFinder },
): ObjectDescription {
  const { unitMm, shown } = options;
  const label = object.name;
  const single = { ...file, objects: [object] };
  const surface = prepareSurface(single, { unitMm, label, shown });
  const { mesh, topology, repairs, selfIntersections } = surface;
  const findings = surface.findings.slice();
  const wall = wallOf(surface);
  if (wall) findings.push(wallFinding(wall, wall.faces ? 'caution' : 'stop', label));
  const box = boundingBox(mesh);
  const openings = openingsBySize(mesh, topology);
  const loops = openings.map(({ loop }) => loop);
  const { closed, closedLoops } = options.closeEnds
    ? closedFlat(mesh, topology, loops, label, findings)
    : { closed: topology.isWatertight ? mesh : undefined, closedLoops: new Set<number>() };
  const vessels = options.endsOf?.(mesh, loops);
  const inFile = (p: Vec3): number[] =>
    numbers(
      p.map((x) => x / unitMm),
      6,
    );
  const description: ObjectDescription = {
    name: object.name,
    triangles: mesh.triangles.length / 3,
    vertices: mesh.positions.length / 3,
    watertight: topology.isWatertight,
    ...(closed
      ? { volume_ml: rounded(measure(closed).volumeMm3 / 1000, 6) }
      : { volume_absent_because: volumeReason(loops.length, options.closeEnds) }),
    area_cm2: rounded(measure(mesh).areaMm2 / 100, 6),
    bounding_box_mm: { min: numbers(box.min), max: numbers(box.max), size: numbers(box.size) },
    components: Array.from(topology.componentSizes, (triangles, c) => ({
      triangles,
      cavity: surface.hosts.has(c),
    })),
    open_ends: openings.map(({ loop, kind, widthMm }, i) => ({
      letter: letter(i),
      kind,
      at: inFile(loop.centroid),
      at_mm: numbers(loop.centroid),
      direction: numbers(loop.normal),
      diameter_mm: rounded(loop.equivalentDiameterMm, 4),
      ...(widthMm === undefined ? {} : { width_mm: rounded(widthMm, 4) }),
      perimeter_mm: rounded(loop.perimeterMm, 4),
      off_plane_mm: rounded(loop.planarityMm, 4),
      closed_for_volume: closedLoops.has(i),
    })),
    ...(vessels && vesselFields(vessels, inFile)),
    non_manifold_edges: topology.nonManifoldEdges.length / 2,
    self_intersections: {
      count: selfIntersections?.count ?? 0,
      at_least: selfIntersections ? selfIntersections.isCapped || !selfIntersections.isComplete : true,
      ...(selfIntersections && selfIntersections.count > 0
        ? { first_mm: numbers(selfIntersections.points[0]) }
        : {}),
    },
    degenerate_triangles: topology.degenerateTriangles.length + repairs.collapsedTriangles,
    duplicate_triangles: repairs.duplicateTriangles,
    turned_triangles: repairs.turnedTriangles,
    turned_components: repairs.turnedComponents,
    findings,
  };
  return description;
}

const numbers = (list: ArrayLike<number>, digits = 4): number[] =>
  Array.from(list, (x) => rounded(x, digits));

/** The mesh with its planar ends closed, undefined if it is still open; adds findings that state what was and was not closed. */
function closedFlat(
  mesh: TriangleMesh,
  topology: Topology,
  loops: BoundaryLoop[],
  label: string,
  findings: Finding[],
): { closed?: TriangleMesh; closedLoops: Set<number> } {
  if (loops.length === 0) return { closed: topology.isWatertight ? mesh : undefined, closedLoops: new Set() };
  const capped = capPlanarLoops(mesh, loops, { planarityFraction: CAP_PLANARITY_FRACTION });
  for (const { loop, why } of capped.refused)
    findings.push(
      finding('note', 'end-left-open', label, `Open end ${letter(loop)} was not closed: ${why}.`),
    );
  if (capped.caps.length > 0) {
    const names = capped.caps.map((cap) => letter(cap.loop)).join(', ');
    findings.push(
      finding(
        'note',
        'end-capped',
        label,
        `Open ${capped.caps.length === 1 ? 'end' : 'ends'} ${names} closed flat for the volume; the area is only that of the wall.`,
      ),
    );
  }
  const isClosed =
    capped.refused.length === 0 &&
    topology.nonManifoldEdges.length === 0 &&
    topology.inconsistentEdges.length === 0;
  return {
    closed: isClosed ? capped.mesh : undefined,
    closedLoops: new Set(capped.caps.map(({ loop }) => loop)),
  };
}

/** Proposed ends of vessels and the widest place, in the unit of the file and in mm. */
function vesselFields(
  vessels: NonNullable<ReturnType<EndFinder>>,
  inFile: (p: Vec3) => number[],
): Pick<ObjectDescription, 'vessel_ends' | 'widest_place'> {
  return {
    ...(vessels.ends.length > 0 && {
      vessel_ends: vessels.ends.map(({ kind, at, direction, calibreMm, letter: name }) => ({
        letter: name,
        kind,
        at: inFile(at),
        at_mm: numbers(at),
        direction: numbers(direction),
        calibre_mm: rounded(calibreMm, 4),
      })),
    }),
    widest_place: {
      at: inFile(vessels.widest),
      at_mm: numbers(vessels.widest),
      diameter_mm: rounded(vessels.widestDiameterMm, 4),
      ...(vessels.widestAtMostMm !== undefined && { at_most_mm: rounded(vessels.widestAtMostMm, 4) }),
    },
  };
}

function volumeReason(openEnds: number, closeEnds: boolean): string {
  if (openEnds === 0) return 'inside and outside are not defined everywhere (see the findings)';
  if (closeEnds) return 'not every open end could be closed';
  return `the surface has ${openEnds} open ${openEnds === 1 ? 'end' : 'ends'}; --capped closes planar ones`;
}

/** A, B … Z, AA, AB … */
function letter(index: number): string {
  let text = '';
  for (let n = index + 1; n > 0; n = Math.floor((n - 1) / 26)) {
    text = String.fromCharCode(65 + ((n - 1) % 26)) + text;
  }
  return text;
}
