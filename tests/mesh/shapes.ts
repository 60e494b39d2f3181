import type { TriangleMesh } from '../../src/mesh/mesh.js';

/** Builds a mesh from nested lists. */
export function meshOf(points: number[][], faces: number[][]): TriangleMesh {
  return { positions: Float64Array.from(points.flat()), triangles: Uint32Array.from(faces.flat()) };
}

/** Axis-aligned box, 8 vertices, 12 triangles, oriented outwards. Volume a·b·c, area 2(ab+bc+ca). */
export function box(a: number, b: number, c: number, at = [0, 0, 0]): TriangleMesh {
  const points = [];
  for (const z of [0, c])
    for (const y of [0, b]) for (const x of [0, a]) points.push([x + at[0], y + at[1], z + at[2]]);
  return meshOf(points, [
    [0, 2, 1],
    [1, 2, 3],
    [4, 5, 6],
    [5, 7, 6],
    [0, 1, 4],
    [1, 5, 4],
    [2, 6, 3],
    [3, 6, 7],
    [0, 4, 2],
    [2, 4, 6],
    [1, 3, 5],
    [3, 7, 5],
  ]);
}

/** Regular tetrahedron of edge s: volume s³/(6·sqrt 2), area sqrt 3·s². */
export function tetrahedron(s: number): TriangleMesh {
  const h = s / (2 * Math.SQRT2);
  return meshOf(
    [
      [h, h, h],
      [h, -h, -h],
      [-h, h, -h],
      [-h, -h, h],
    ],
    [
      [0, 1, 2],
      [0, 3, 1],
      [0, 2, 3],
      [1, 3, 2],
    ],
  );
}

/**
 * Open n-sided prism along z without ends, regular polygon of circumradius r.
 * Section area n·r²·sin(2π/n)/2; wall area 2·n·r·sin(π/n)·length.
 */
export function tube(n: number, r: number, length: number, rings = 4): TriangleMesh {
  const points = [];
  for (let j = 0; j <= rings; j++) {
    for (let i = 0; i < n; i++) {
      const w = (2 * Math.PI * i) / n;
      points.push([r * Math.cos(w), r * Math.sin(w), (length * j) / rings]);
    }
  }
  const faces = [];
  for (let j = 0; j < rings; j++) {
    for (let i = 0; i < n; i++) {
      const a = j * n + i;
      const b = j * n + ((i + 1) % n);
      faces.push([a, b, a + n], [b, b + n, a + n]);
    }
  }
  return meshOf(points, faces);
}

/** A tube closed with a fan at both ends, two extra vertices. */
export function cylinder(n: number, r: number, length: number, rings = 4): TriangleMesh {
  const open = tube(n, r, length, rings);
  const base = open.positions.length / 3;
  const top = rings * n;
  const faces = [];
  for (let i = 0; i < n; i++) {
    faces.push(base, (i + 1) % n, i);
    faces.push(base + 1, top + i, top + ((i + 1) % n));
  }
  return {
    positions: Float64Array.from([...open.positions, 0, 0, 0, 0, 0, length]),
    triangles: Uint32Array.from([...open.triangles, ...faces]),
  };
}

/** Grid sphere (latitude/longitude) of radius r with about 2·n·n triangles; used for its size, not for an exact volume. */
export function gridSphere(n: number, r: number): TriangleMesh {
  const rows = n / 2;
  const positions = new Float64Array(3 * ((rows - 1) * n + 2));
  let p = 0;
  positions[p++] = 0;
  positions[p++] = 0;
  positions[p++] = r;
  for (let j = 1; j < rows; j++) {
    for (let i = 0; i < n; i++) {
      const u = (Math.PI * j) / rows;
      const w = (2 * Math.PI * i) / n;
      positions[p++] = r * Math.sin(u) * Math.cos(w);
      positions[p++] = r * Math.sin(u) * Math.sin(w);
      positions[p++] = r * Math.cos(u);
    }
  }
  positions[p + 2] = -r;
  const last = positions.length / 3 - 1;
  const triangles = new Uint32Array(3 * (2 * n + 2 * n * (rows - 2)));
  let t = 0;
  const at = (j: number, i: number): number => 1 + (j - 1) * n + (i % n);
  for (let i = 0; i < n; i++) {
    triangles.set([0, at(1, i), at(1, i + 1)], t);
    t += 3;
  }
  for (let j = 1; j < rows - 1; j++) {
    for (let i = 0; i < n; i++) {
      triangles.set([at(j, i), at(j + 1, i), at(j, i + 1), at(j, i + 1), at(j + 1, i), at(j + 1, i + 1)], t);
      t += 6;
    }
  }
  for (let i = 0; i < n; i++) {
    triangles.set([last, at(rows - 1, i + 1), at(rows - 1, i)], t);
    t += 3;
  }
  return { positions, triangles };
}

/** Both meshes next to each other in one, not welded. */
export function together(...meshes: TriangleMesh[]): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  for (const m of meshes) {
    const base = positions.length / 3;
    for (const x of m.positions) positions.push(x);
    for (const v of m.triangles) triangles.push(v + base);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

/** The mesh without the listed triangles. */
export function without(mesh: TriangleMesh, ...dropped: number[]): TriangleMesh {
  const triangles = [];
  for (let t = 0; t < mesh.triangles.length / 3; t++) {
    if (!dropped.includes(t)) triangles.push(...mesh.triangles.slice(3 * t, 3 * t + 3));
  }
  return { positions: mesh.positions, triangles: Uint32Array.from(triangles) };
}

/** The mesh with the listed triangles flipped. */
export function turnedOver(mesh: TriangleMesh, ...turned: number[]): TriangleMesh {
  const triangles = mesh.triangles.slice();
  for (const t of turned)
    [triangles[3 * t + 1], triangles[3 * t + 2]] = [triangles[3 * t + 2], triangles[3 * t + 1]];
  return { positions: mesh.positions, triangles };
}

/** Every vertex moved by `by`. */
export function moved(mesh: TriangleMesh, by: number[]): TriangleMesh {
  return { positions: mesh.positions.map((x, i) => x + by[i % 3]), triangles: mesh.triangles };
}

/** Triangle soup: every triangle has its own three vertices. */
export function soupOf(mesh: TriangleMesh): TriangleMesh {
  const positions = new Float64Array(mesh.triangles.length * 3);
  for (const [i, v] of mesh.triangles.entries())
    positions.set(mesh.positions.subarray(3 * v, 3 * v + 3), 3 * i);
  return { positions, triangles: Uint32Array.from({ length: mesh.triangles.length }, (_, i) => i) };
}

/** Every triangle flipped. */
export const over = (mesh: TriangleMesh): TriangleMesh =>
  turnedOver(mesh, ...Array.from({ length: mesh.triangles.length / 3 }, (_, t) => t));

/** The wall of a tube: outer and inner face, and a ring between them at both ends. */
export function tubeWall(n: number, outer: number, inner: number, length: number, rings = 12): TriangleMesh {
  const both = together(tube(n, outer, length, rings), over(tube(n, inner, length, rings)));
  const faces: number[] = [];
  const base = (rings + 1) * n;
  const top = rings * n;
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    faces.push(i, base + i, j, j, base + i, base + j);
    faces.push(top + i, top + j, base + top + i, top + j, base + top + j, base + top + i);
  }
  return { positions: both.positions, triangles: Uint32Array.from([...both.triangles, ...faces]) };
}

/** The wall of a tube with rounded rims: a ring of half the wall's thickness at both ends, closed. */
export function roundedWall(
  n: number,
  outer: number,
  inner: number,
  length: number,
  rings = 24,
): TriangleMesh {
  const round = 12;
  const [middle, half] = [(outer + inner) / 2, (outer - inner) / 2];
  const rim = (z: number, from: number): [number, number][] =>
    Array.from({ length: round - 1 }, (_, i) => {
      const a = from + (Math.PI * (i + 1)) / round;
      return [middle + half * Math.cos(a), z + half * Math.sin(a)];
    });
  const along = (r: number, up: boolean): [number, number][] =>
    Array.from({ length: rings + 1 }, (_, i) => [r, (length * (up ? i : rings - i)) / rings]);
  // around the section of the wall: up the outside, over the rim, down the inside
  const outline = [...along(outer, true), ...rim(length, 0), ...along(inner, false), ...rim(0, Math.PI)];
  return revolved(outline, n);
}

/** A closed vessel of radius `r` along a ring of radius `ring`. */
export const ringVessel = (n: number, r: number, ring: number): TriangleMesh =>
  revolved(
    Array.from({ length: n }, (_, i): [number, number] => {
      const a = (2 * Math.PI * i) / n;
      return [ring + r * Math.cos(a), r * Math.sin(a)];
    }),
    2 * n,
  );

/** The body of revolution of a closed outline of (radius, height), counter-clockwise, about the z axis in `n` steps. */
function revolved(outline: readonly (readonly [number, number])[], n: number): TriangleMesh {
  const m = outline.length;
  const positions: number[] = [];
  const triangles: number[] = [];
  for (let i = 0; i < n; i++) {
    const a = (2 * Math.PI * i) / n;
    for (const [r, z] of outline) positions.push(r * Math.cos(a), r * Math.sin(a), z);
    for (let k = 0; k < m; k++) {
      const [p, q] = [i * m + k, i * m + ((k + 1) % m)];
      const [s, t] = [((i + 1) % n) * m + k, ((i + 1) % n) * m + ((k + 1) % m)];
      triangles.push(p, s, q, s, t, q);
    }
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}
