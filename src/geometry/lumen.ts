import { fixed } from '../foundation/number-text.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import { type Cells, cellNear, cellsWithin, middleOf } from '../grid/cells.js';
import { cheapestWays, wayFrom } from '../grid/cheapest-ways.js';
import { depthsMm } from '../grid/depth.js';
import { fillCells, leastStepMm } from '../grid/fill.js';
import { measure } from '../mesh/measures.js';
import { localFit, Polyline } from './polyline.js';
import { median } from './statistics.js';
import type { Surface } from './surface.js';

/** A way through the lumen, from a vessel's far end to the sac, with the depth below the wall at each place. */
export interface Way {
  cells: number[];
  points: Vec3[];
  depthMm: number[];
}

/** Numerical settings. */
const LUMEN = {
  /** Cells that a lumen is divided into at first, … */
  cells: 100_000,
  /** … while fewer than so many lie across some vessel, … */
  wishedAcross: 5,
  wishedCells: 300_000,
  /** … and at most, where fewer than three do. */
  leastAcross: 3,
  mostCells: 1_500_000,
  finer: 1.5,
  /** The part of a way that may be narrower: a place where vessels merely touch is not worth finer cells. */
  narrowPart: 0.1,
  /** A point in a vessel's end may lie this many cells beside the lumen's. */
  near: 3,
  /** A way within so many depths of another runs through the same lumen. */
  beside: 1.5,
  mostAbout: 10,
  /** A place is narrow where it has less than this part of the depth within so many usual depths to both sides. */
  narrow: 0.75,
  looksBeside: 4,
  /** Within so many of those depths about it, all that is not this much deeper is shut when another way is looked for. */
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

  /** The cell nearest to a point in or just beside the lumen; -1 where none is near. */
  cellNear(point: Vec3): number {
    return cellNear(this.cells, point, LUMEN.near);
  }

  /** The cell to which the depth rises from this one. */
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
   * Ways from each of `ends` to `to`, cells, that keep to the middle of the lumen, since their cost falls with the square of
   * the depth (after Bitter, Kaufman and Sato, IEEE Trans Vis Comput Graph 2001;7:195, and Deschamps and Cohen, Med Image
   * Anal 2001;5:281, both from memory). Undefined where none leads.
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
   * The shortest way to `to` from the start of each of `ways`, moved to the middle of the lumen: the cheapest through the cells
   * about the shortest. Undefined where it runs through the same lumen as the way itself.
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

  /** Whether every place of one way lies within the lumen's own width of another. */
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
   * The way itself, or another one that does not slip through a narrow place between vessels that touch: where the lumen is
   * narrower than to both sides, a way is looked for that keeps clear of such places there.
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

  /** 1 for the cells about a row of cells, within the lumen's own width or some cells at most. */
  private about(row: readonly number[]): Uint8Array {
    const near = new Uint8Array(this.cells.count);
    for (const cell of row) {
      const width = Math.ceil((2 * this.depths[this.deepest(cell)]) / this.cells.stepMm) + 1;
      for (const other of cellsWithin(this.cells, cell, Math.min(LUMEN.mostAbout, width))) near[other] = 1;
    }
    return near;
  }
}

/** Where a way is much narrower than within some calibres to both sides. */
interface NarrowPlace {
  index: number;
  /** Its depth as a part of the lesser of the largest depths to either side. */
  part: number;
  /** That depth, mm. */
  besideMm: number;
}

/** The narrowest such place of a way, its far end and the sac left aside; undefined where there is none. */
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

/** Cells across the lumen along a way, but for its end and its narrowest part. */
function cellsAcross({ depthMm }: Way, stepMm: number): number {
  const end = Math.min(depthMm.length >> 1, Math.ceil((2 * median(depthMm)) / stepMm));
  const sorted = depthMm.slice(end).sort((a, b) => a - b);
  return (2 * sorted[Math.floor(LUMEN.narrowPart * sorted.length)]) / stepMm + 1;
}

/** The lumen with deep ways to the middle of the sac. */
export interface LumenWays {
  lumen: Lumen;
  /** The cell at the deepest place about the sac's point. */
  sac: number;
  /** One for each end, in order; undefined where none leads to the sac. */
  ways: (Way | undefined)[];
}

/** Side of the cells that a lumen is divided into at first, mm. */
export function lumenStepMm(surface: Surface): number {
  const { volumeMm3 } = measure(surface);
  return Math.max(leastStepMm(surface.sizeMm()), Math.cbrt(Math.abs(volumeMm3) / LUMEN.cells));
}

/**
 * Ways from each of the `ends` to the sac through the middle of the lumen. The grid is refined while some vessel is only
 * a few cells across, within a bounded number of cells. Undefined where the sac's point lies in no cell.
 */
export function waysToSac(surface: Surface, sac: Vec3, ends: readonly Vec3[]): LumenWays | undefined {
  const least = leastStepMm(surface.sizeMm());
  let stepMm = lumenStepMm(surface);
  for (;;) {
    const lumen = new Lumen(surface, stepMm);
    const near = lumen.cellNear(sac);
    const cells = ends.map((end) => lumen.cellNear(end));
    const finer = stepMm / LUMEN.finer;
    const count = lumen.cells.count * LUMEN.finer ** 3;
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

/** Cells that a single tube is divided into for its shortest way. */
const TUBE_CELLS = 30_000;

/** Why the line of a single tube is no way to measure along: it is longer than `ratio` times the shortest way, centred alike. */
export function wayFault(
  surface: Surface,
  line: Polyline,
  calibreMm: number,
  ratio: number,
): string | undefined {
  // inside by half a calibre, off the caps
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

/** Length of a way without the corners of its cells, mm. */
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

/** The words for a way longer than `ratio` times the shortest; undefined where it is not. */
export const tooLong = (ownMm: number, leastMm: number, ratio: number): string | undefined =>
  ownMm > ratio * leastMm
    ? `its way, ${fixed(ownMm, 1)} mm, is more than ${ratio} times the shortest through the lumen, ${fixed(leastMm, 1)} mm. Look whether a neighbour touches it`
    : undefined;
