import { fixed } from '../foundation/number-text.js';
import { cube } from '../foundation/power.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import { type Cells, cellNear, cellsWithin, middleOf } from '../grid/cells.js';
import { cheapestWays, wayFrom } from '../grid/cheapest-ways.js';
import { depthsMm } from '../grid/depth.js';
import { fillCells, leastStepMm } from '../grid/fill.js';
import { measure } from '../mesh/measures.js';
import { localFit, Polyline } from './polyline.js';
import { median } from './statistics.js';
import type { Surface } from './surface.js';

/** A path through the lumen, from a vessel's far end to the sac, with the depth below the wall at each place. */
export interface Way {
  cells: number[];
  points: Vec3[];
  depthMm: number[];
}

/** Numerical settings. */
const LUMEN = {
  /** Initial number of cells of a lumen, */
  cells: 100_000,
  /** refined while fewer than this many are across some vessel, */
  wishedAcross: 5,
  wishedCells: 300_000,
  /** and greatest number, if fewer than three are. */
  leastAcross: 3,
  mostCells: 1_500_000,
  finer: 1.5,
  /** Share of a path that may be narrower: finer cells are not worthwhile for a place where vessels merely touch. */
  narrowPart: 0.1,
  /** A point in a vessel's end may be this many cells outside the lumen. */
  near: 3,
  /** A path within this many depths of another runs through the same lumen. */
  beside: 1.5,
  mostAbout: 10,
  /** A place is narrow if its depth is less than this share of that within this many usual depths to both sides. */
  narrow: 0.75,
  looksBeside: 4,
  /** Within this many of those depths around it, everything that is not this much deeper is blocked when another path is searched for. */
  shutReach: 6,
  shutDepth: 1.2,
  tries: 4,
} as const;

/** A lumen as cells of a regular grid with their depths below the wall. */
export class Lumen {
  readonly cells: Cells;
  private readonly depths: Float32Array;

  constructor(surface: Surface, stepMm: number) {
    this.cells = fillCells(surface.positions, surface.triangles, stepMm);
    this.depths = depthsMm(this.cells);
  }

  /** The cell nearest to a point in the lumen or just outside it; -1 if none is near. */
  cellNear(point: Vec3): number {
    return cellNear(this.cells, point, LUMEN.near);
  }

  /** The local maximum of depth reached by ascending from this cell. */
  deepest(from: number): number {
    const { stepMm } = this.cells;
    let cell = from;
    for (let guard = 0; guard < this.cells.count; guard++) {
      const [x, y, z] = middleOf(this.cells, cell);
      let best = cell;
      for (let k = 0; k < 27; k++) {
        const p: Vec3 = [
          x + ((k % 3) - 1) * stepMm,
          y + ((Math.floor(k / 3) % 3) - 1) * stepMm,
          z + (Math.floor(k / 9) - 1) * stepMm,
        ];
        const other = cellNear(this.cells, p, 0);
        if (other >= 0 && this.depths[other] > this.depths[best]) best = other;
      }
      if (best === cell) return cell;
      cell = best;
    }
    return cell;
  }

  /**
   * Paths from each of `ends` to `to`, as cells, that keep to the middle of the lumen because the cost falls with the square of the depth
   * (after Bitter, Kaufman and Sato, IEEE Trans Vis Comput Graph 2001;7:195, and Deschamps and Cohen, Med Image
   * Anal 2001;5:281, both from memory). Undefined if there is none.
   */
  deepWays(
    to: number,
    ends: readonly number[],
    mayUse: (cell: number) => boolean = () => true,
  ): (Way | undefined)[] {
    const floor = this.cells.stepMm / 2;
    const cost = (cell: number): number =>
      mayUse(cell) ? 1 / Math.max(floor, this.depths[cell]) ** 2 : Number.POSITIVE_INFINITY;
    const ways = cheapestWays(this.cells, to, ends, cost);
    return ends.map((end) => this.along(wayFrom(ways, end)));
  }

  private along(way: number[] | undefined): Way | undefined {
    return (
      way && {
        cells: way,
        points: way.map((cell) => middleOf(this.cells, cell)),
        depthMm: way.map((cell) => this.depths[cell]),
      }
    );
  }

  /**
   * The shortest path to `to` from the start of each of `ways`, moved to the middle of the lumen: the cheapest through the cells around
   * the shortest. Undefined if it runs through the same lumen as the way itself.
   */
  shortestCentred(to: number, ways: readonly Way[]): (Way | undefined)[] {
    const starts = ways.map(({ cells }) => cells[0]);
    const all = cheapestWays(this.cells, to, starts, () => 1);
    return ways.map((way) => {
      const shortest = this.along(wayFrom(all, way.cells[0]));
      if (!shortest || this.isBeside(shortest, way)) return undefined;
      const near = this.about(shortest.cells);
      return this.deepWays(to, [way.cells[0]], (cell) => near[cell] === 1)[0];
    });
  }

  /** Whether every place of one path is within the lumen's width of another. */
  private isBeside({ points }: Way, other: Way): boolean {
    const step = this.cells.stepMm;
    return points.every((p) =>
      other.points.some(
        (q, i) =>
          Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) <= LUMEN.beside * other.depthMm[i] + 2 * step,
      ),
    );
  }

  /**
   * The way itself, or another one that avoids a narrow place between touching vessels: if the lumen is narrower than on both sides, a
   * path is searched for that avoids such places there.
   */
  pastNeighbours(way: Way, to: number): Way {
    let best = way;
    let narrowest = narrowPlace(way, this.cells.stepMm);
    const shut: { at: Vec3; reachMm: number; depthMm: number }[] = [];
    let current: Way | undefined = way;
    for (let tries = 0; tries < LUMEN.tries && current; tries++) {
      const place = narrowPlace(current, this.cells.stepMm);
      if (!place) return current;
      if (!narrowest || place.part > narrowest.part) [best, narrowest] = [current, place];
      shut.push({
        at: current.points[place.index],
        reachMm: LUMEN.shutReach * place.besideMm,
        depthMm: LUMEN.shutDepth * current.depthMm[place.index],
      });
      const isOpen = (cell: number): boolean => {
        const p = middleOf(this.cells, cell);
        return shut.every(
          ({ at, reachMm, depthMm }) => this.depths[cell] > depthMm || distance(p, at) > reachMm,
        );
      };
      [current] = this.deepWays(to, [way.cells[0]], isOpen);
    }
    return best;
  }

  /** 1 for the cells around a row of cells, within the lumen's width or at most some cells. */
  private about(row: readonly number[]): Uint8Array {
    const near = new Uint8Array(this.cells.count);
    for (const cell of row) {
      const width = Math.ceil((2 * this.depths[this.deepest(cell)]) / this.cells.stepMm) + 1;
      for (const other of cellsWithin(this.cells, cell, Math.min(LUMEN.mostAbout, width))) near[other] = 1;
    }
    return near;
  }
}

/** A place at which a path is much narrower than within some calibres to both sides. */
interface NarrowPlace {
  index: number;
  /** Its depth relative to the smaller of the largest depths on either side. */
  part: number;
  /** That depth, mm. */
  besideMm: number;
}

/** The narrowest such place of a path, ignoring its far end and the sac; undefined if there is none. */
function narrowPlace({ depthMm }: Way, stepMm: number): NarrowPlace | undefined {
  const usual = median(depthMm);
  const reach = Math.ceil((LUMEN.looksBeside * usual) / stepMm);
  let found: NarrowPlace | undefined;
  for (let i = Math.ceil((2 * usual) / stepMm); i < depthMm.length; i++) {
    if (depthMm[i] > usual) continue;
    const before = Math.max(...depthMm.slice(Math.max(0, i - reach), i));
    const after = Math.max(...depthMm.slice(i + 1, i + 1 + reach));
    const besideMm = Math.min(before, after);
    const part = depthMm[i] / besideMm;
    if (part < LUMEN.narrow && part < (found?.part ?? 1)) found = { index: i, part, besideMm };
  }
  return found;
}

/** Cells across the lumen along a path, except at its end and its narrowest part. */
function cellsAcross({ depthMm }: Way, stepMm: number): number {
  const end = Math.min(depthMm.length >> 1, Math.ceil((2 * median(depthMm)) / stepMm));
  const sorted = depthMm.slice(end).sort((a, b) => a - b);
  return (2 * sorted[Math.floor(LUMEN.narrowPart * sorted.length)]) / stepMm + 1;
}

/** The lumen with centred paths to the middle of the sac. */
export interface LumenWays {
  lumen: Lumen;
  /** The cell at the deepest place around the sac's point. */
  sac: number;
  /** One for each end, in order; undefined if none leads to the sac. */
  ways: (Way | undefined)[];
}

/** Initial side of the cells of a lumen, mm. */
export function lumenStepMm(surface: Surface): number {
  const { volumeMm3 } = measure(surface);
  return Math.max(leastStepMm(surface.sizeMm()), Math.cbrt(Math.abs(volumeMm3) / LUMEN.cells));
}

/**
 * Paths from each of the `ends` to the sac through the middle of the lumen. The grid is refined while some vessel is only a few cells
 * across, up to a limit on the number of cells. Undefined if the sac's point is in no cell.
 */
export function waysToSac(surface: Surface, sac: Vec3, ends: readonly Vec3[]): LumenWays | undefined {
  const least = leastStepMm(surface.sizeMm());
  let stepMm = lumenStepMm(surface);
  for (;;) {
    const lumen = new Lumen(surface, stepMm);
    const near = lumen.cellNear(sac);
    const cells = ends.map((end) => lumen.cellNear(end));
    const finer = stepMm / LUMEN.finer;
    const count = lumen.cells.count * cube(LUMEN.finer);
    if (near >= 0) {
      const middle = lumen.deepest(near);
      const held = cells.filter((cell) => cell >= 0);
      const found = lumen.deepWays(middle, held);
      const ways = cells.map((cell) => (cell >= 0 ? found[held.indexOf(cell)] : undefined));
      const across = Math.min(...ways.map((way) => (way ? cellsAcross(way, stepMm) : 0)));
      const isFine =
        across >= LUMEN.wishedAcross || (across >= LUMEN.leastAcross && count > LUMEN.wishedCells);
      if (isFine || count > LUMEN.mostCells || finer < least)
        return { lumen, sac: middle, ways: ways.map((way) => way && lumen.pastNeighbours(way, middle)) };
    } else if (count > LUMEN.mostCells || finer < least) return undefined;
    stepMm = finer;
  }
}

/** Number of cells of a single tube for its shortest path. */
const TUBE_CELLS = 30_000;

/**
 * Why the line of a single tube must not be measured along: it is longer than `ratio` times the shortest path, centred in the same way.
 */
export function wayFault(
  surface: Surface,
  line: Polyline,
  calibreMm: number,
  ratio: number,
): string | undefined {
  // inside by half a calibre, away from the caps
  const [from, to] = [0.5 * calibreMm, line.lengthMm - 0.5 * calibreMm];
  if (to <= from) return undefined;
  const [start, end] = [line.pointAt(from), line.pointAt(to)];
  if (to - from <= ratio * distance(start, end)) return undefined;
  const { volumeMm3 } = measure(surface);
  const stepMm = Math.max(leastStepMm(surface.sizeMm()), Math.cbrt(Math.abs(volumeMm3) / TUBE_CELLS));
  const lumen = new Lumen(surface, stepMm);
  const [first, last] = [lumen.cellNear(start), lumen.cellNear(end)];
  const [way] = first >= 0 && last >= 0 ? lumen.deepWays(last, [first]) : [];
  if (!way) return undefined;
  const [shortest = way] = lumen.shortestCentred(last, [way]);
  return tooLong(to - from, lengthOfWay(shortest), ratio);
}

/** Length of a path, smoothed over the corners of its cells, mm. */
export function lengthOfWay({ points, depthMm }: Way): number {
  const line = new Polyline(points);
  const half = Math.max(...depthMm);
  const count = Math.max(2, Math.ceil(line.lengthMm / (half / 2)));
  const smooth = Array.from({ length: count + 1 }, (_, i) => {
    const at = (i * line.lengthMm) / count;
    return i === 0 || i === count ? line.pointAt(at) : localFit(line, at, half).point;
  });
  return new Polyline(smooth).lengthMm;
}

/** The text for a path longer than `ratio` times the shortest; undefined if it is not. */
export const tooLong = (ownMm: number, leastMm: number, ratio: number): string | undefined =>
  ownMm > ratio * leastMm
    ? `its way, ${fixed(ownMm, 1)} mm, is more than ${ratio} times the shortest through the lumen, ${fixed(leastMm, 1)} mm. Check whether a neighbour touches it`
    : undefined;
