import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { cube } from '../foundation/power.js';
import { add, distance, dot, scale, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { WindingField } from '../mesh/winding-field.js';
import type { PrintJob } from './print-job.js';
import { place } from './repair-part.js';
import { meshOfSolid, type Workshop } from './workshop.js';

/** Two sides of a wall face each other within 60 degrees; a wider corner is not a wall. */
const FACING = 0.5;
/** Spacing of the places examined, and edge of the added facets, as fractions of the wall. */
const SPACING = 1 / 5;
const FACET = 1 / 6;
/** The added body is thicker than the wall by this factor, because places are spaced apart and facets cut its curves. */
const ROOM = 1.06;
/** Samples near the corners of a triangle are moved this far towards its middle. */
const INSET = 0.1;
/** A triangle is examined closely if something faces it within this many walls. */
const NEAR_WALLS = 1.5;
const MOST_PARTS = 40;
const MOST_CELLS = 400_000;
/** Work steps per cell of the added body. */
const CELL_STEPS = 1;
/** Parts of a lumen cut off by the added walls are filled below this volume, mm³. */
const SMALLEST_POCKET_MM3 = 5;
/** Greatest number of places listed. */
const MOST_PLACES = 5;

/** The middle of a wall that is too thin. */
interface ThinPlace {
  at: Vec3;
  thicknessMm: number;
}

/**
 * Narrows the lumen of a hollow print where it is closer to itself or to another lumen than the requested wall: the wall there grows
 * evenly to both sides of its middle, so that no opening arises between two vessels. Findings say where, and whether that closes a lumen.
 */
export async function keepWallsBetween(job: PrintJob, lumen: Manifold): Promise<Manifold> {
  const { workshop, wallMm } = job;
  const { WindingField } = await import('../mesh/winding-field.js');
  const mesh = meshOfSolid(lumen);
  const thin = thinPlaces(mesh, new WindingField(mesh, workshop.work), wallMm);
  if (thin.length === 0) return lumen;
  const clusters = clustersOf(thin, 2 * wallMm);
  const septa = clusters.map((cluster) => septum(workshop, cluster, wallMm));
  const cut = workshop.difference(lumen, workshop.union(septa));
  const pieces = workshop.decompose(cut).filter((p) => p.volume() > 0);
  const kept = pieces.filter((p) => p.volume() >= SMALLEST_POCKET_MM3);
  sayThickened(job, clusters);
  const before = workshop.decompose(lumen).filter((p) => p.volume() >= SMALLEST_POCKET_MM3).length;
  if (kept.length > before) {
    job.findings.push(
      finding(
        'caution',
        'print-lumen-closed',
        'model',
        `The walls between vessels, thickened to ${fixed(wallMm, 2)} mm, part the lumen into ${kept.length} pieces: a vessel is closed there. Print larger, with a thinner wall, or solid.`,
      ),
    );
  }
  return kept.length === pieces.length ? cut : workshop.union(kept);
}

function sayThickened(job: PrintJob, clusters: readonly ThinPlace[][]): void {
  const rows = clusters.map((c) => c.reduce((a, b) => (b.thicknessMm < a.thicknessMm ? b : a)));
  rows.sort((a, b) => a.thicknessMm - b.thicknessMm);
  const shown = rows.slice(0, MOST_PLACES).map((r) => `${place(r.at)} (was ${fixed(r.thicknessMm, 2)} mm)`);
  const more = rows.length > MOST_PLACES ? ` and at ${rows.length - MOST_PLACES} more places` : '';
  const intoMm = (ROOM * job.wallMm - rows[0].thicknessMm) / 2;
  job.findings.push(
    finding(
      'caution',
      'print-wall-thickened',
      'model',
      `Vessels lie nearer to each other than the wall of ${fixed(job.wallMm, 2)} mm. The wall between them was thickened to that at ${shown.join(', ')} of the print${more}: there the lumen is narrower by up to ${fixed(intoMm, 2)} mm on each side and not true to size.`,
    ),
  );
}

/** Middles of all places where the solid between two facing sides of the lumen is thinner than the wall. */
function thinPlaces(mesh: TriangleMesh, field: WindingField, wallMm: number): ThinPlace[] {
  const found = new Map<number, ThinPlace>();
  const stepMm = SPACING * wallMm;
  for (let t = 0; t < mesh.triangles.length / 3; t++) {
    const corners = [0, 1, 2].map((k) => field.vertex(mesh.triangles[3 * t + k]));
    const normal = field.normal(t);
    if (!normal.every(Number.isFinite)) continue;
    const thickness = (p: Vec3): number | undefined => {
      const hit = field.first(p, normal, 1e-5);
      return hit && hit.triangle !== t && -dot(field.normal(hit.triangle), normal) >= FACING
        ? hit.distance
        : undefined;
    };
    const middle = blend(corners, 1 / 3, 1 / 3);
    const looks = [middle, ...corners.map((c) => add(scale(c, 1 - INSET), scale(middle, INSET)))];
    if (!looks.some((p) => (thickness(p) ?? Infinity) < NEAR_WALLS * wallMm)) continue;
    const longest = Math.max(...corners.map((c, k) => distance(c, corners[(k + 1) % 3])));
    const parts = Math.min(MOST_PARTS, Math.max(1, Math.ceil(longest / stepMm)));
    for (let i = 0; i < parts; i++) {
      for (let j = 0; i + j < parts; j++) {
        const p = blend(corners, (i + 1 / 3) / parts, (j + 1 / 3) / parts);
        const thicknessMm = thickness(p);
        if (thicknessMm === undefined || thicknessMm >= wallMm) continue;
        const at = add(p, scale(normal, thicknessMm / 2));
        const [x, y, z] = at.map((c) => Math.floor(c / (stepMm / 2)));
        const key = cubeKey(x, y, z);
        const other = found.get(key);
        if (!other || thicknessMm < other.thicknessMm) found.set(key, { at, thicknessMm });
      }
    }
  }
  return [...found.values()];
}

const blend = (corners: readonly Vec3[], f: number, g: number): Vec3 =>
  add(add(scale(corners[0], 1 - f - g), scale(corners[1], f)), scale(corners[2], g));

/** A single key for three integers below 65 536. */
const cubeKey = (i: number, j: number, k: number): number =>
  ((i + 2 ** 16) * 2 ** 17 + (j + 2 ** 16)) * 2 ** 17 + (k + 2 ** 16);

/** Points sorted into a grid of cubes, to find those near a place. */
class Cubes<T extends { at: Vec3 }> {
  private readonly cubes = new Map<number, T[]>();

  private readonly edgeMm: number;

  constructor(items: readonly T[], edgeMm: number) {
    this.edgeMm = edgeMm;
    for (const item of items) {
      const key = cubeKey(...this.numbers(item.at));
      const cube = this.cubes.get(key);
      if (cube) cube.push(item);
      else this.cubes.set(key, [item]);
    }
  }

  private numbers(p: Vec3): Vec3 {
    return p.map((c) => Math.floor(c / this.edgeMm)) as Vec3;
  }

  /** The cube of a place and its 26 neighbours; holds all points within one edge length. */
  about(p: Vec3): T[][] {
    const [x, y, z] = this.numbers(p);
    const out: T[][] = [];
    for (let i = x - 1; i <= x + 1; i++)
      for (let j = y - 1; j <= y + 1; j++)
        for (let k = z - 1; k <= z + 1; k++) {
          const cube = this.cubes.get(cubeKey(i, j, k));
          if (cube) out.push(cube);
        }
    return out;
  }
}

/** Clusters of places, separated by gaps of more than `apartMm`, in the order found. */
function clustersOf(places: readonly ThinPlace[], apartMm: number): ThinPlace[][] {
  const cubes = new Cubes(places, apartMm);
  const seen = new Set<ThinPlace>();
  const clusters: ThinPlace[][] = [];
  for (const first of places) {
    if (seen.has(first)) continue;
    seen.add(first);
    const cluster = [first];
    for (const one of cluster)
      for (const near of cubes.about(one.at).flat())
        if (!seen.has(near) && distance(near.at, one.at) <= apartMm) {
          seen.add(near);
          cluster.push(near);
        }
    clusters.push(cluster);
  }
  return clusters;
}

/** The body within half a wall of the middles of one thin wall. */
function septum(workshop: Workshop, places: readonly ThinPlace[], wallMm: number): Manifold {
  const radius = (ROOM * wallMm) / 2;
  const cubes = new Cubes(places, radius + FACET * wallMm);
  const bounds = { min: [0, 0, 0] as Vec3, max: [0, 0, 0] as Vec3 };
  for (let k = 0; k < 3; k++) {
    const [low, high] = places.reduce(
      ([a, b], { at }) => [Math.min(a, at[k]), Math.max(b, at[k])],
      [Infinity, -Infinity],
    );
    bounds.min[k] = low - radius - wallMm / 2;
    bounds.max[k] = high + radius + wallMm / 2;
  }
  const volume = bounds.max.reduce((product, high, k) => product * (high - bounds.min[k]), 1);
  const facetMm = Math.max(FACET * wallMm, Math.cbrt(volume / MOST_CELLS));
  workshop.work.spend(CELL_STEPS * (volume / cube(facetMm)));
  const far = radius + FACET * wallMm;
  return workshop.levelSet(
    ([x, y, z]) => {
      let least = far * far;
      for (const cube of cubes.about([x, y, z]))
        for (const { at } of cube) {
          const d = (at[0] - x) ** 2 + (at[1] - y) ** 2 + (at[2] - z) ** 2;
          if (d < least) least = d;
        }
      return radius - Math.sqrt(least);
    },
    bounds,
    facetMm,
  );
}
