import { add, dot, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { EvenGrid } from '../grid/even-grid.js';
import { levelSurface } from './level-surface.js';
import { calibreAt, DIRECTIONS, type Tube } from './tube.js';

/** A tube for the joined surface: cut across at `cut`, keeping the side towards the sac. */
export interface CutTube {
  tube: Tube;
  cut?: { at: Vec3; inwards: Vec3 };
  /** Sections before this one belong to the vessel, those after it to the structure that it opens into. */
  neck: number;
}

/** A closed mesh with outward unit normals at its vertices. */
export interface Shell {
  mesh: TriangleMesh;
  normals: Float64Array;
}

export interface Joined {
  mesh: TriangleMesh;
  grid: EvenGrid;
  /** 0 outside, 1 the sac, 2 and up the tubes in their order; z fastest. */
  owner: Uint8Array;
}

/** Greatest number of places of the grid. */
const MOST_PLACES = 30_000_000;

/** One closed surface around a sac and the tubes that open into it, on a regular grid of about `stepMm`. */
export function joined(shell: Shell, tubes: readonly CutTube[], stepMm: number): Joined {
  const grid = gridAbout(shell, tubes, stepMm);
  const h = grid.stepMm;
  const [nx, ny, nz] = grid.size;
  const far = 3 * h;
  const field = new Float32Array(nx * ny * nz).fill(far);
  const owner = new Uint8Array(field.length);
  layShell(grid, shell, field, far);
  for (let n = 0; n < field.length; n++) if (field[n] < 0) owner[n] = 1;
  tubes.forEach((tube, t) => {
    layTube(grid, tube, (place, value, station) => {
      if (value < 0 && (station < tube.neck || owner[place] === 0) && owner[place] < 2) owner[place] = t + 2;
      if (value < field[place]) field[place] = value;
    });
  });
  return { mesh: levelSurface(grid, field), grid, owner };
}

function gridAbout(shell: Shell, tubes: readonly CutTube[], stepMm: number): EvenGrid {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  const take = (p: ArrayLike<number>, by: number): void => {
    for (let d = 0; d < 3; d++) {
      low[d] = Math.min(low[d], p[d] - by);
      high[d] = Math.max(high[d], p[d] + by);
    }
  };
  const { positions } = shell.mesh;
  for (let v = 0; v < positions.length; v += 3) take(positions.subarray(v, v + 3), 0);
  for (const { tube } of tubes)
    tube.centres.forEach((centre, i) => {
      take(centre, 0.75 * calibreAt(tube, i));
    });
  let h = stepMm;
  const places = (): number => low.reduce((n, x, d) => n * ((high[d] - x) / h + 9), 1);
  while (places() > MOST_PLACES) h *= 1.05;
  const size = low.map((x, d) => Math.ceil((high[d] - x) / h) + 9) as [number, number, number];
  // offset from the round numbers on which points and planes are likely to be
  return { originMm: low.map((x, d) => x - (4.13 + 0.07 * d) * h) as Vec3, stepMm: h, size };
}

/** Writes the distance from the shell near its wall, negative inside; deep inside `-far`. */
function layShell(grid: EvenGrid, { mesh, normals }: Shell, field: Float32Array, far: number): void {
  const { originMm, stepMm: h, size } = grid;
  const [nx, ny, nz] = size;
  const best = new Float32Array(field.length).fill(Number.POSITIVE_INFINITY);
  const { positions, triangles } = mesh;
  const visit = (p: Vec3, n: Vec3): void => {
    const [x, y, z] = p.map((v, d) => Math.round((v - originMm[d]) / h));
    for (let i = Math.max(0, x - 2); i <= Math.min(nx - 1, x + 2); i++)
      for (let j = Math.max(0, y - 2); j <= Math.min(ny - 1, y + 2); j++)
        for (let k = Math.max(0, z - 2); k <= Math.min(nz - 1, z + 2); k++) {
          const [dx, dy, dz] = [
            originMm[0] + i * h - p[0],
            originMm[1] + j * h - p[1],
            originMm[2] + k * h - p[2],
          ];
          const square = dx * dx + dy * dy + dz * dz;
          const place = (i * ny + j) * nz + k;
          if (square >= best[place]) continue;
          best[place] = square;
          field[place] = Math.max(-far, Math.min(far, dx * n[0] + dy * n[1] + dz * n[2]));
        }
  };
  const corner = (list: Float64Array, v: number): Vec3 => [list[3 * v], list[3 * v + 1], list[3 * v + 2]];
  // vertices and points within the triangles, dense enough that every place near the wall has one next to it
  for (let t = 0; t < triangles.length; t += 3) {
    const p = [0, 1, 2].map((c) => corner(positions, triangles[t + c]));
    const n = [0, 1, 2].map((c) => corner(normals, triangles[t + c]));
    const longest = Math.max(
      ...[0, 1, 2].map((c) => Math.sqrt(lengthSquared(subtract(p[c], p[(c + 1) % 3])))),
    );
    const parts = Math.max(1, Math.ceil(longest / (0.7 * h)));
    for (let a = 0; a <= parts; a++)
      for (let b = 0; a + b <= parts; b++) {
        const w = [a / parts, b / parts, (parts - a - b) / parts];
        const at = w.reduce<Vec3>((sum, s, c) => add(sum, scale(p[c], s)), [0, 0, 0]);
        const normal = w.reduce<Vec3>((sum, s, c) => add(sum, scale(n[c], s)), [0, 0, 0]);
        // the wall bulges over its triangle according to the normals at the vertices
        const bulge = w.reduce((sum, s, c) => sum + s * dot(subtract(p[c], at), n[c]), 0) / 2;
        const size = Math.sqrt(lengthSquared(normal)) || 1;
        const unit = scale(normal, 1 / size);
        visit(add(at, scale(unit, bulge)), unit);
      }
  }
  fillInside(size, field, best, far);
}

/**
 * Sets the signs of places around a closed wall; those near it have a finite `best`. Places that can be reached from the rim of the grid
 * without crossing these are outside, the others inside. A place near the wall gets the side of an adjacent free place; the normal alone
 * may give the wrong side at a sharp turn.
 */
function fillInside(
  size: readonly [number, number, number],
  field: Float32Array,
  best: Float32Array,
  far: number,
): void {
  const [, ny, nz] = size;
  const steps = [ny * nz, nz, 1];
  const isFree = (place: number): boolean => best[place] === Number.POSITIVE_INFINITY;
  const at = (place: number, d: number): number => Math.floor(place / steps[d]) % size[d];
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let place = 0; place < field.length; place++)
    if (!isFree(place))
      for (let d = 0; d < 3; d++) {
        low[d] = Math.min(low[d], at(place, d) - 1);
        high[d] = Math.max(high[d], at(place, d) + 1);
      }
  const isOutside = new Uint8Array(field.length);
  const eachBeside = (place: number, visit: (other: number) => void): void => {
    for (let d = 0; d < 3; d++) {
      const here = at(place, d);
      if (here > low[d]) visit(place - steps[d]);
      if (here < high[d]) visit(place + steps[d]);
    }
  };
  // one place wider than the wall on all sides, so that its corner is outside
  const open = [low.reduce((sum, x, d) => sum + x * steps[d], 0)];
  isOutside[open[0]] = 1;
  for (let place = open.pop(); place !== undefined; place = open.pop())
    eachBeside(place, (other) => {
      if (isOutside[other] === 1 || !isFree(other)) return;
      isOutside[other] = 1;
      open.push(other);
    });
  for (let x = low[0]; x <= high[0]; x++)
    for (let y = low[1]; y <= high[1]; y++)
      for (let z = low[2]; z <= high[2]; z++) {
        const place = (x * ny + y) * nz + z;
        if (!isFree(place)) continue;
        const sign = isOutside[place] === 1 ? 1 : -1;
        field[place] = sign * far;
        eachBeside(place, (other) => {
          if (!isFree(other)) field[other] = sign * Math.abs(field[other]);
        });
      }
}

const lengthSquared = (p: Vec3): number => dot(p, p);

/** Visits the places near a tube with their distance from its wall and the nearest section. */
function layTube(
  grid: EvenGrid,
  { tube, cut }: CutTube,
  visit: (place: number, value: number, station: number) => void,
): void {
  const { originMm, stepMm: h, size } = grid;
  const [, ny, nz] = size;
  const { centres, side, up, radii } = tube;
  for (let i = 0; i + 1 < centres.length; i++) {
    const [a, b] = [centres[i], centres[i + 1]];
    let widest = 0;
    for (let k = 0; k < 2 * DIRECTIONS; k++) widest = Math.max(widest, radii[DIRECTIONS * i + k]);
    const reach = widest + 2.5 * h;
    const low = [0, 1, 2].map((d) =>
      Math.max(0, Math.ceil((Math.min(a[d], b[d]) - reach - originMm[d]) / h)),
    );
    const high = [0, 1, 2].map((d) =>
      Math.min(size[d] - 1, Math.floor((Math.max(a[d], b[d]) + reach - originMm[d]) / h)),
    );
    const edge = subtract(b, a);
    const square = dot(edge, edge);
    for (let x = low[0]; x <= high[0]; x++)
      for (let y = low[1]; y <= high[1]; y++)
        for (let z = low[2]; z <= high[2]; z++) {
          const p: Vec3 = [originMm[0] + x * h, originMm[1] + y * h, originMm[2] + z * h];
          const off = subtract(p, a);
          const t = square > 0 ? dot(off, edge) / square : 0;
          // beyond the ends of a piece the next one applies; with a small overlap, since pieces bend
          if (t < -0.6 || t > 1.6) continue;
          const s = Math.max(0, Math.min(1, t));
          const from = subtract(off, scale(edge, s));
          const away = Math.sqrt(lengthSquared(from));
          if (away > reach) continue;
          const across = Math.atan2(
            (1 - s) * dot(from, up[i]) + s * dot(from, up[i + 1]),
            (1 - s) * dot(from, side[i]) + s * dot(from, side[i + 1]),
          );
          const turn = ((across / (2 * Math.PI)) * DIRECTIONS + DIRECTIONS) % DIRECTIONS;
          const k = Math.floor(turn) % DIRECTIONS;
          const next = (k + 1) % DIRECTIONS;
          const u = turn - Math.floor(turn);
          const radius =
            (1 - s) * ((1 - u) * radii[DIRECTIONS * i + k] + u * radii[DIRECTIONS * i + next]) +
            s * ((1 - u) * radii[DIRECTIONS * (i + 1) + k] + u * radii[DIRECTIONS * (i + 1) + next]);
          let value = away - radius;
          if (cut) value = Math.max(value, -dot(subtract(p, cut.at), cut.inwards));
          visit((x * ny + y) * nz + z, value, i + s);
        }
  }
}
