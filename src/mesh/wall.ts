import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { dot, lerp, onSpiral, scale, type Vec3 } from '../foundation/vector.js';
import type { LoadedSurface } from './load-surface.js';
import type { TriangleMesh } from './mesh.js';
import { compacted } from './read/mesh-builder.js';
import { sharedSurface } from './shared-arrays.js';
import { buildTopology } from './topology.js';
import { WindingField } from './winding-field.js';

/** A surface that is the wall of a vessel or sac rather than its lumen. */
export interface Wall {
  /** Median thickness, mm. */
  thicknessMm: number;
  /** The inner face flipped to be a lumen, and the outer face, both open where the wall ends; absent if they could not be told apart. */
  faces?: { lumen: TriangleMesh; outside: TriangleMesh };
}

/** Numerical settings of the recognition. No clinical meaning. */
const WALL = {
  /** Two triangles whose normals have this cosine or more belong to one face: the edge of a cut wall is sharper. */
  smooth: 0.5,
  /** Least share of the area for inner and outer face each. */
  leastFace: 0.15,
  samples: 200,
  /** Least share of the samples of a face that must see what that face of a wall sees. */
  agree: 0.8,
  /** Without two faces: this share of samples looks across a lumen, */
  across: 0.25,
  /** the wall is thinner than this fraction of it, */
  thin: 0.5,
  /** its thickness is uniform within this ratio, for the middle half, */
  even: 1.5,
  /** and from the middle of the lumen this share of all directions meets the wall within this many of its widths. */
  enclosed: 0.75,
  reach: 2.5,
} as const;

/** The hits of the two rays from the middle of a triangle. */
interface Sample {
  triangle: number;
  point: Vec3;
  normal: Vec3;
  /** Into the body: distance to the wall's other side. */
  inward?: { distance: number; triangle: number };
  /** Out of the body, if it meets a facing surface: distance to the wall across a lumen. */
  outward?: { distance: number; triangle: number };
}

/**
 * Whether a closed surface of one piece (apart from cavities) is a wall: an inner face that looks across a lumen at itself, and an outer
 * face behind it. Undefined if it is not. Only a surface with a handle or cavity, which the wall of anything open or hollow has, or a
 * surface much thinner than its box is examined; an open surface is not.
 */
export function wallOf(surface: LoadedSurface): Wall | undefined {
  const { mesh, topology } = surface;
  if (!topology.isWatertight || !mayBeWall(surface)) return undefined;
  const field = new WindingField(mesh);
  const face = facesOf(mesh, topology.twin);
  const area = areas(mesh);
  const size = new Map<number, number>();
  for (let t = 0; t < face.length; t++) size.set(face[t], (size.get(face[t]) ?? 0) + area[t]);
  const total = area.reduce((sum, a) => sum + a, 0);
  const [first, second] = [...size].sort((a, b) => b[1] - a[1]);
  const samples = samplesOf(field, area, () => true);
  if (second && second[1] >= WALL.leastFace * total) {
    const of = (id: number) => samplesOf(field, area, (t) => face[t] === id);
    const [one, other] = [of(first[0]), of(second[0])];
    for (const [outer, inner, outerId, innerId] of [
      [one, other, first[0], second[0]],
      [other, one, second[0], first[0]],
    ] as const) {
      const looksAcross = share(
        inner,
        (s) => s.outward !== undefined && face[s.outward.triangle] === innerId,
      );
      const hasBehind = share(inner, (s) => s.inward !== undefined && face[s.inward.triangle] === outerId);
      const coversInner = share(outer, (s) => s.inward !== undefined && face[s.inward.triangle] === innerId);
      const looksOut = share(outer, (s) => s.outward === undefined || face[s.outward.triangle] !== innerId);
      if (Math.min(looksAcross, hasBehind, coversInner, looksOut) < WALL.agree) continue;
      return {
        thicknessMm: middle(inner.map((s) => s.inward?.distance ?? 0)),
        faces: { lumen: turned(only(mesh, face, innerId)), outside: only(mesh, face, outerId) },
      };
    }
  }
  return looksLikeWall(field, samples) ? { thicknessMm: thickness(samples) } : undefined;
}

function mayBeWall({ mesh, topology, hosts }: LoadedSurface): boolean {
  if (hosts.size > 0) return true;
  const euler = mesh.positions.length / 3 - topology.edgeCount + mesh.triangles.length / 3;
  return euler < 2 * topology.componentSizes.length;
}

/** The number of the smooth face that each triangle belongs to. */
function facesOf(mesh: TriangleMesh, twin: Int32Array): Int32Array {
  const count = mesh.triangles.length / 3;
  const normals = new Float64Array(3 * count);
  for (let t = 0; t < count; t++) normals.set(normalOf(mesh, t), 3 * t);
  const face = new Int32Array(count).fill(-1);
  const waiting: number[] = [];
  let number = 0;
  for (let seed = 0; seed < count; seed++) {
    if (face[seed] >= 0) continue;
    face[seed] = number;
    waiting.push(seed);
    for (let t = waiting.pop(); t !== undefined; t = waiting.pop())
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const s = twin[h] < 0 ? -1 : (twin[h] / 3) | 0;
        if (s < 0 || face[s] >= 0) continue;
        const cosine =
          normals[3 * t] * normals[3 * s] +
          normals[3 * t + 1] * normals[3 * s + 1] +
          normals[3 * t + 2] * normals[3 * s + 2];
        if (cosine < WALL.smooth) continue;
        face[s] = number;
        waiting.push(s);
      }
    number++;
  }
  return face;
}

function crossOf({ positions, triangles }: TriangleMesh, t: number): Vec3 {
  const [a, b, c] = [3 * triangles[3 * t], 3 * triangles[3 * t + 1], 3 * triangles[3 * t + 2]];
  const u = [0, 1, 2].map((k) => positions[b + k] - positions[a + k]);
  const v = [0, 1, 2].map((k) => positions[c + k] - positions[a + k]);
  return [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
}

function normalOf(mesh: TriangleMesh, t: number): Vec3 {
  const n = crossOf(mesh, t);
  return scale(n, 1 / (Math.hypot(...n) || 1));
}

const areas = (mesh: TriangleMesh): Float64Array =>
  Float64Array.from({ length: mesh.triangles.length / 3 }, (_, t) => Math.hypot(...crossOf(mesh, t)) / 2);

/** Samples spread evenly over the area of the selected triangles. */
function samplesOf(field: WindingField, area: Float64Array, counts: (t: number) => boolean): Sample[] {
  let total = 0;
  for (let t = 0; t < area.length; t++) if (counts(t)) total += area[t];
  const step = total / WALL.samples;
  const samples: Sample[] = [];
  let left = step / 2;
  for (let t = 0; t < area.length; t++) {
    if (!counts(t)) continue;
    left -= area[t];
    if (left > 0) continue;
    left = step;
    samples.push(sampleAt(field, t));
  }
  return samples;
}

function sampleAt(field: WindingField, triangle: number): Sample {
  const point = field.centroid(triangle);
  const normal = field.normal(triangle);
  const inside = scale(normal, -1);
  const off = 1e-4;
  const inward = field.first(point, inside, off);
  const outward = field.first(point, normal, off);
  const looksBack = outward !== undefined && dot(field.normal(outward.triangle), normal) < 0;
  return {
    triangle,
    point,
    normal,
    ...(inward && { inward }),
    ...(looksBack && { outward }),
  };
}

const share = (samples: readonly Sample[], holds: (s: Sample) => boolean): number =>
  samples.length === 0 ? 0 : samples.filter(holds).length / samples.length;

const middle = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[values.length >> 1] ?? 0;

const thickness = (samples: readonly Sample[]): number =>
  middle(samples.flatMap((s) => (s.inward ? [s.inward.distance] : [])));

/** Whether a surface shows the signs of a wall whose faces merge over a rounded edge. */
function looksLikeWall(field: WindingField, samples: readonly Sample[]): boolean {
  const across = samples.filter((s) => s.outward !== undefined);
  if (across.length < WALL.across * samples.length) return false;
  const widthMm = middle(across.map((s) => s.outward!.distance));
  const all = samples.flatMap((s) => (s.inward ? [s.inward.distance] : [])).sort((a, b) => a - b);
  const [low, half, high] = [0.25, 0.5, 0.75].map((p) => all[Math.floor(p * (all.length - 1))]);
  if (half > WALL.thin * widthMm || high > WALL.even * low) return false;
  const enclosed = across.filter((s) => isEnclosed(field, s)).length;
  return enclosed >= WALL.agree * across.length;
}

/** Whether most directions from the middle of the lumen that a sample looks across meet the wall from inside the lumen. */
function isEnclosed(field: WindingField, { point, normal, outward }: Sample): boolean {
  const widthMm = outward!.distance;
  const centre = lerp(point, [0, 1, 2].map((k) => point[k] + normal[k] * widthMm) as Vec3, 0.5);
  let met = 0;
  for (const direction of DIRECTIONS) {
    const hit = field.first(centre, direction);
    if (hit && hit.distance <= WALL.reach * widthMm && dot(field.normal(hit.triangle), direction) < 0) met++;
  }
  return met >= WALL.enclosed * DIRECTIONS.length;
}

/** Evenly spread directions (a spiral of equal areas). */
const DIRECTIONS: readonly Vec3[] = Array.from({ length: 40 }, (_, i) => onSpiral(i, 1 - (2 * i + 1) / 40));

function only({ positions, triangles }: TriangleMesh, face: Int32Array, id: number): TriangleMesh {
  return compacted(
    positions,
    triangles.filter((_, c) => face[(c / 3) | 0] === id),
  );
}

const turned = ({ positions, triangles }: TriangleMesh): TriangleMesh => ({
  positions,
  triangles: triangles.map((v, i) => (i % 3 === 0 ? v : triangles[i % 3 === 1 ? i + 1 : i - 1])),
});

/** The surface to measure, and the one to draw and print. */
export interface LumenAndOutside {
  lumen: LoadedSurface;
  /** Absent if the surface is not a wall. */
  outside?: LoadedSurface;
  /** True if it is a wall whose lumen could not be found, so that it must not be measured. */
  isUnclear: boolean;
}

/** The lumen of a surface: the surface itself or, if it is a wall, its inner face, with a finding. */
export function lumenOf(surface: LoadedSurface, label: string): LumenAndOutside {
  const wall = wallOf(surface);
  if (!wall) return { lumen: surface, isUnclear: false };
  const said = (level: 'caution' | 'stop'): LoadedSurface => ({
    ...surface,
    findings: [...surface.findings, wallFinding(wall, level, label)],
  });
  if (!wall.faces) return { lumen: said('stop'), isUnclear: true };
  return {
    lumen: faceOf(said('caution'), wall.faces.lumen),
    outside: faceOf(surface, wall.faces.outside),
    isUnclear: false,
  };
}

/** The finding on a wall; a caution if its lumen can be measured. */
export function wallFinding(wall: Wall, level: 'caution' | 'stop', label: string): Finding {
  const what = `The surface is a wall about ${fixed(wall.thicknessMm, 2)} mm thick, not the lumen of a vessel or sac.`;
  const done =
    level === 'caution'
      ? 'The lumen, its inner face, is what is measured; picture and print, with their check points, are of the outside. A surface of the blood pool is better: export the lumen.'
      : 'Its inner and outer face could not be told apart, so it was not measured. Export the lumen (the blood pool) instead.';
  return finding(level === 'stop' ? 'stop' : 'caution', 'wall-not-lumen', label, `${what} ${done}`);
}

function faceOf(surface: LoadedSurface, mesh: TriangleMesh): LoadedSurface {
  return sharedSurface({
    ...surface,
    mesh,
    topology: buildTopology(mesh),
    findings: surface.findings.filter(({ id }) => id !== 'inner-cavity' && id !== 'several-components'),
    cavities: [],
    hosts: new Map(),
  });
}
