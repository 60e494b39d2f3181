import { cube } from '../foundation/power.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import { type Cells, cellAt, cellNear, cellsWhere, cellsWithin, middleOf } from '../grid/cells.js';
import { cheapestSpread } from '../grid/cheapest-spread.js';
import { neighbours } from '../grid/cheapest-ways.js';
import { depthsMm } from '../grid/depth.js';
import { cellOf, type EvenGrid } from '../grid/even-grid.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { GreyRegion } from '../witness/scan-region.js';
import { levelSurface } from './level-surface.js';
import { calibreAt, type Tube } from './tube.js';

/** The opacified cells of the region, each with its depth. */
export interface Opacified {
  cells: Cells;
  depthMm: Float32Array;
}

export function opacifiedCells({ grey, ...grid }: GreyRegion, levelHu: number, mostHu: number): Opacified {
  const cells = cellsWhere(grid, (place) => grey[place] >= levelHu && grey[place] <= mostHu);
  return { cells, depthMm: depthsMm(cells) };
}

/** The cells of a sac, grown from its deepest place. */
export interface RoughSac {
  /** The deepest place near the given point, mm LPS, and its depth. */
  middle: Vec3;
  depthMm: number;
  /** Path length from the core of the sac through opacified cells, mm; undefined if not reached. */
  fromCore: Map<number, number>;
  /** Greatest distance of the sac from its core, mm. */
  reachMm: number;
  /** The deepest place connected to the core, mm. */
  deepestMm: number;
  deepestAt: Vec3;
  /** The crop of the scan ends inside the sac. */
  isAtRim: boolean;
  /** Narrow passages to unnamed opacified structures next to the sac: middle and width. */
  parted: { at: Vec3; contactMm: number }[];
}

/** A passage narrower than this share of the sac's depth separates a neighbour from it. */
const WAIST = 0.5;
/** How far the sac may extend past its morphologically opened shape: mm, and a share of its depth. */
const SLACK_MM = 1;
const SLACK = 0.1;
/**
 * Parts thinner than twice this share of the sac's depth, and this many mm, do not belong to its shape: the rim of an adjacent rib is as
 * bright.
 */
const THIN = 0.25;
const THIN_MM = 1.2;

/**
 * Grows the sac from a point: by steps of increasing depth to its deepest place, from there through cells at least half as deep, and out
 * again to its wall. Structures connected by a passage under half as wide as the sac are separated from it (a watershed of depth); named
 * vessels are excluded up to their necks by `tubes`.
 */
export function roughSac(
  { cells, depthMm }: Opacified,
  at: Vec3,
  tubes: readonly { tube: Tube; neck: number }[],
): RoughSac | undefined {
  const first = cellNear(cells, at, 3);
  if (first < 0) return undefined;
  const { stepMm } = cells;
  let top = first;
  for (;;) {
    let better = top;
    for (const other of cellsWithin(cells, top, 3)) if (depthMm[other] > depthMm[better]) better = other;
    if (better === top) break;
    top = better;
  }
  const blocked = cellsInTubes(cells, tubes);
  blocked[top] = 0;
  const waist = WAIST * depthMm[top];
  const core: number[] = [top];
  const isSeen = new Uint8Array(cells.count);
  isSeen[top] = 1;
  let deepest = top;
  for (let i = 0; i < core.length; i++)
    for (const other of cellsWithin(cells, core[i], 1)) {
      if (isSeen[other] || blocked[other] || depthMm[other] < waist) continue;
      isSeen[other] = 1;
      core.push(other);
      if (depthMm[other] > depthMm[deepest]) deepest = other;
    }
  const reachMm = waist + SLACK_MM + SLACK * depthMm[top];
  const fromCore = withinBalls({ cells, depthMm }, spread(cells, core, blocked, reachMm + 3 * stepMm), {
    blocked,
    reachMm,
    leastMm: Math.max(THIN_MM, THIN * depthMm[top]),
  });
  const [nx, ny, nz] = cells.size;
  let isAtRim = false;
  for (const cell of core) {
    const [x, y, z] = cellOf(cells.size, cells.placeOf[cell]);
    const room = Math.ceil(reachMm / stepMm) + 4;
    if (x < room || y < room || z < room || x >= nx - room || y >= ny - room || z >= nz - room)
      isAtRim = true;
  }
  return {
    middle: middleOf(cells, top),
    depthMm: depthMm[top],
    fromCore,
    reachMm,
    deepestMm: depthMm[deepest],
    deepestAt: middleOf(cells, deepest),
    isAtRim,
    parted: partedFrom(cells, fromCore, blocked, reachMm),
  };
}

/** Whether a place is in the grown sac, or within a cell of it. */
export function isInSac({ cells }: Opacified, { fromCore, reachMm }: RoughSac, p: Vec3): boolean {
  const cell = cellNear(cells, p, 1);
  return cell >= 0 && (fromCore.get(cell) ?? Number.POSITIVE_INFINITY) <= reachMm;
}

/**
 * Of the cells connected to the core, those inside a ball around one of them that fits into the opacified region, or up to 1 mm outside it;
 * balls smaller than `leastMm` do not count. The path length of cells farther away exceeds `reachMm`.
 */
function withinBalls(
  { cells, depthMm }: Opacified,
  fromCore: ReadonlyMap<number, number>,
  { blocked, reachMm, leastMm }: { blocked: Uint8Array; reachMm: number; leastMm: number },
): Map<number, number> {
  const centres = [...fromCore].flatMap(([cell, way]) =>
    way <= reachMm && depthMm[cell] >= leastMm ? [cell] : [],
  );
  const most = SLACK_MM + 3 * cells.stepMm;
  const beside = spread(cells, centres, blocked, most, (cell) => -depthMm[cell]);
  const kept = new Map<number, number>();
  for (const [cell, way] of fromCore) {
    const mm = beside.get(cell);
    if (mm !== undefined) kept.set(cell, Math.max(way, reachMm + mm - SLACK_MM));
  }
  return kept;
}

/** A passage narrower than this many cells, or to fewer cells than this, is noise and not a vessel. */
const LEAST_CELLS = 4;
const LEAST_BEYOND_MM3 = 20;

/** The passages at which the sac was separated from structures beyond. */
function partedFrom(
  cells: Cells,
  fromCore: ReadonlyMap<number, number>,
  blocked: Uint8Array,
  reachMm: number,
): { at: Vec3; contactMm: number }[] {
  const { stepMm } = cells;
  const isRim = (cell: number): boolean => {
    const way = fromCore.get(cell);
    return way !== undefined && way > reachMm && way <= reachMm + 1.5 * stepMm && blocked[cell] === 0;
  };
  const seen = new Set<number>();
  const found: { at: Vec3; contactMm: number }[] = [];
  for (const first of fromCore.keys()) {
    if (seen.has(first) || !isRim(first)) continue;
    const passage = [first];
    seen.add(first);
    for (let i = 0; i < passage.length; i++)
      for (const other of cellsWithin(cells, passage[i], 1))
        if (!seen.has(other) && isRim(other)) {
          seen.add(other);
          passage.push(other);
        }
    if (passage.length < LEAST_CELLS) continue;
    const beyond = new Set(passage);
    const least = LEAST_BEYOND_MM3 / cube(stepMm) + passage.length;
    for (const cell of beyond) {
      if (beyond.size >= least) break;
      for (const other of cellsWithin(cells, cell, 1))
        if (blocked[other] === 0 && (fromCore.get(other) ?? Number.POSITIVE_INFINITY) > reachMm)
          beyond.add(other);
    }
    if (beyond.size < least) continue;
    const middles = passage.map((cell) => middleOf(cells, cell));
    const at = [0, 1, 2].map((d) => middles.reduce((sum, p) => sum + p[d], 0) / middles.length) as Vec3;
    const contactMm = 2 * Math.sqrt(((passage.length / 1.5) * stepMm * stepMm) / Math.PI);
    found.push({ at, contactMm });
  }
  return found;
}

/** Marks the cells inside the vessels, up to one calibre before their necks. */
function cellsInTubes(cells: Cells, tubes: readonly { tube: Tube; neck: number }[]): Uint8Array {
  const inside = new Uint8Array(cells.count);
  for (const { tube, neck } of tubes)
    for (let i = 0; i <= neck; i++) {
      const radius = calibreAt(tube, i) / 2 + 0.5;
      if (distance(tube.centres[i], tube.centres[neck]) < radius) continue;
      const reach = Math.ceil(radius / cells.stepMm);
      const cell = cellNear(cells, tube.centres[i], 1);
      if (cell < 0) continue;
      for (const other of cellsWithin(cells, cell, reach))
        if (distance(middleOf(cells, other), tube.centres[i]) <= radius) inside[other] = 1;
    }
  return inside;
}

/** Path length from the nearest of some cells, each with its initial value, through the others, up to `mostMm`. */
function spread(
  cells: Cells,
  from: readonly number[],
  blocked: Uint8Array,
  mostMm: number,
  startMm?: (cell: number) => number,
): Map<number, number> {
  const [steps, lengths] = neighbours(cells.size, cells.stepMm);
  const { spent } = cheapestSpread(
    from,
    (cell, cost, offer) => {
      for (let k = 0; k < steps.length; k++) {
        const other = cellAt(cells, cells.placeOf[cell] + steps[k]);
        if (other < 0) continue;
        // a little into the vessels, so that the surface ends in them and not at their first cell
        const step = lengths[k] * (blocked[other] ? 2 : 1);
        if (cost + step <= mostMm) offer(other, step);
      }
      return false;
    },
    startMm,
  );
  return spent;
}

/** Surface of the rough sac at its threshold, mm LPS. */
export function roughSacMesh(
  region: GreyRegion,
  opacified: Opacified,
  sac: RoughSac,
  levelHu: number,
): TriangleMesh {
  const { cells } = opacified;
  const [, ny, nz] = cells.size;
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (const cell of sac.fromCore.keys()) {
    cellOf(cells.size, cells.placeOf[cell]).forEach((x, d) => {
      low[d] = Math.min(low[d], x);
      high[d] = Math.max(high[d], x);
    });
  }
  const size = low.map((x, d) => high[d] - x + 5) as [number, number, number];
  const grid: EvenGrid = {
    originMm: low.map((x, d) => region.originMm[d] + (x - 2) * region.stepMm) as Vec3,
    stepMm: region.stepMm,
    size,
  };
  const field = new Float32Array(size[0] * size[1] * size[2]).fill(1);
  for (let x = 0, n = 0; x < size[0]; x++)
    for (let y = 0; y < size[1]; y++)
      for (let z = 0; z < size[2]; z++, n++) {
        const place = ((x + low[0] - 2) * ny + y + low[1] - 2) * nz + z + low[2] - 2;
        const value = region.grey[place];
        const cell = cellAt(cells, place);
        const way = cell < 0 ? undefined : sac.fromCore.get(cell);
        // the gradient at a wall is about 400 HU per mm
        const byGrey = Number.isNaN(value) || value === undefined ? 1 : (levelHu - value) / 400;
        if (cell >= 0) field[n] = way === undefined ? 1 : Math.max(byGrey, way - sac.reachMm);
        else field[n] = Math.max(0.01, byGrey);
      }
  return outerPiece(levelSurface(grid, field));
}

/** The piece of a mesh with the most vertices, without the walls of inner cavities. */
function outerPiece({ positions, triangles }: TriangleMesh): TriangleMesh {
  const count = positions.length / 3;
  const leads = Uint32Array.from({ length: count }, (_, v) => v);
  const top = (v: number): number => {
    let at = v;
    while (leads[at] !== at) {
      leads[at] = leads[leads[at]];
      at = leads[at];
    }
    return at;
  };
  for (let t = 0; t < triangles.length; t += 3) {
    leads[top(triangles[t + 1])] = top(triangles[t]);
    leads[top(triangles[t + 2])] = top(triangles[t]);
  }
  const sizes = new Uint32Array(count);
  for (let v = 0; v < count; v++) sizes[top(v)]++;
  const best = sizes.indexOf(sizes.reduce((most, n) => Math.max(most, n), 0));
  const numbers = new Int32Array(count).fill(-1);
  const kept: number[] = [];
  for (let v = 0; v < count; v++)
    if (top(v) === best) {
      numbers[v] = kept.length / 3;
      kept.push(positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]);
    }
  return {
    positions: Float64Array.from(kept),
    triangles: triangles.filter((v) => top(v) === best).map((v) => numbers[v]),
  };
}
