import type { Vec3 } from '../foundation/vector.js';
import type { EdgePairing } from './edge-pairing.js';
import { hostsOfComponents } from './inside-component.js';
import { boundingBox } from './measures.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';
import type { Topology } from './topology.js';

export interface OrientResult {
  mesh: TriangleMesh;
  /** Triangles flipped because they disagreed with the rest of their component. */
  disagreeingTriangles: number[];
  /** Components flipped as a whole because their signed volume was negative. */
  turnedComponents: number[];
  /** Closed components of negative volume inside another body, kept as its cavities. */
  cavities: number[];
  /** The component that contains each cavity. */
  hosts: Map<number, number>;
  /** Pairs of vertices of the edges across which no orientation agrees (a one-sided band). */
  oneSidedEdges: number[];
  /** Per component: volume enclosed after turning, with open ends closed by a fan about their centre, mm³. */
  componentVolumesMm3: Float64Array;
}

/**
 * Flips triangles so that neighbours agree (flood fill over edges), then each component so that its volume is positive; open ends count
 * as closed by a fan. A component of negative volume inside another body is a cavity and stays. Returns a new mesh with a new topology if
 * anything was flipped, else the same mesh.
 */
export function orient(mesh: TriangleMesh, topology: Topology): OrientResult {
  const { triangles } = mesh;
  const { component, componentSizes } = topology;
  const count = triangles.length / 3;
  const { sign, oneSidedEdges } =
    meshKernel(mesh)?.agreedSigns(triangles, topology.twin) ?? signsPlainly(triangles, topology.twin);
  const volumes = componentVolumes(mesh, topology, sign);
  const turn = Uint8Array.from(volumes, (volume) => (volume >= 0 ? 0 : 1));
  const open = openComponents(topology);
  const hosts = hostsOfComponents(mesh, topology, cavityCandidates(topology, sign, turn, open), open);
  const cavities = [...hosts.keys()];
  for (const c of cavities) turn[c] = 0;
  if (!turn.includes(1) && !sign.includes(-1))
    return {
      mesh,
      disagreeingTriangles: [],
      turnedComponents: [],
      cavities,
      hosts,
      oneSidedEdges,
      componentVolumesMm3: volumes,
    };
  const turned = new Uint32Array(componentSizes.length);
  for (let t = 0; t < count; t++) {
    if (turn[component[t]]) sign[t] = -sign[t];
    if (sign[t] < 0) turned[component[t]]++;
  }
  const disagreeingTriangles: number[] = [];
  const result = sign.includes(-1) ? triangles.slice() : triangles;
  for (let t = 0; t < count; t++) {
    const c = component[t];
    const whole = 2 * turned[c] > componentSizes[c];
    if (whole ? sign[t] > 0 : sign[t] < 0) disagreeingTriangles.push(t);
    if (sign[t] < 0) {
      result[3 * t + 1] = triangles[3 * t + 2];
      result[3 * t + 2] = triangles[3 * t + 1];
    }
  }
  const turnedComponents: number[] = [];
  for (let c = 0; c < turned.length; c++) {
    if (2 * turned[c] > componentSizes[c]) turnedComponents.push(c);
    if (turn[c]) volumes[c] = -volumes[c];
  }
  return {
    mesh: result === triangles ? mesh : { positions: mesh.positions, triangles: result },
    disagreeingTriangles,
    turnedComponents,
    cavities,
    hosts,
    oneSidedEdges,
    componentVolumesMm3: volumes,
  };
}

/** 1 or -1 for each triangle so that neighbours agree, by a flood fill over edges, and the edges where that fails. */
export function signsPlainly(
  triangles: Uint32Array,
  twin: Int32Array,
): { sign: Int8Array; oneSidedEdges: number[] } {
  const count = triangles.length / 3;
  const sign = new Int8Array(count);
  const queue = new Uint32Array(count);
  const oneSidedEdges: number[] = [];
  const after = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);
  for (let first = 0; first < count; first++) {
    if (sign[first]) continue;
    sign[first] = 1;
    let head = 0;
    let tail = 0;
    queue[tail++] = first;
    while (head < tail) {
      const t = queue[head++];
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const g = twin[h];
        if (g < 0) continue;
        const s = (g / 3) | 0;
        const agreeing = triangles[g] === triangles[h] ? -sign[t] : sign[t];
        if (!sign[s]) {
          sign[s] = agreeing;
          queue[tail++] = s;
        } else if (sign[s] !== agreeing && g > h) {
          oneSidedEdges.push(triangles[h], triangles[after(h)]);
        }
      }
    }
  }
  return { sign, oneSidedEdges };
}

/** Closed components to be flipped whose triangles agreed in the file, which may be intended as cavities. */
function cavityCandidates(
  { component, componentSizes }: Topology,
  sign: Int8Array,
  turn: Uint8Array,
  open: Uint8Array,
): number[] {
  const candidates: number[] = [];
  if (turn.length < 2 || !turn.includes(1)) return candidates;
  const fileSign = new Int8Array(componentSizes.length);
  for (let t = 0; t < sign.length; t++) {
    const c = component[t];
    if (fileSign[c] === 0) fileSign[c] = sign[t];
    else if (fileSign[c] !== sign[t]) fileSign[c] = 2;
  }
  for (let c = 0; c < turn.length; c++) {
    if (turn[c] && fileSign[c] === 1 && !open[c]) candidates.push(c);
  }
  return candidates;
}

function openComponents(topology: Topology): Uint8Array {
  const open = new Uint8Array(topology.componentSizes.length);
  for (const loop of topology.loops) open[topology.component[(loop.halfEdges[0] / 3) | 0]] = 1;
  return open;
}

/** Signed volume of each component with its triangles signed and its open ends closed by fans. */
function componentVolumes(mesh: TriangleMesh, topology: Topology, sign: Int8Array): Float64Array {
  const { triangles } = mesh;
  const about = boundingBox(mesh).centre;
  const volumes =
    meshKernel(mesh)?.componentVolumes(mesh, sign, topology, about) ??
    volumesPlainly(mesh, sign, topology, about);
  const six = sixfold(mesh, about);
  const [ox, oy, oz] = about;
  for (const loop of topology.loops) {
    const [x, y, z] = loop.centroid;
    for (const h of loop.halfEdges) {
      const t = (h / 3) | 0;
      const a = 3 * triangles[h];
      const b = 3 * triangles[h % 3 === 2 ? h - 2 : h + 1];
      // the fan runs against the wall's half-edge
      volumes[topology.component[t]] += (sign[t] * six(b, a, x - ox, y - oy, z - oz)) / 6;
    }
  }
  return volumes;
}

/** Signed volume of the triangles of each component, relative to a point. */
export function volumesPlainly(
  mesh: TriangleMesh,
  sign: Int8Array,
  { component, componentSizes }: Pick<EdgePairing, 'component' | 'componentSizes'>,
  about: Vec3,
): Float64Array {
  const { positions, triangles } = mesh;
  const [ox, oy, oz] = about;
  const six = sixfold(mesh, about);
  const volumes = new Float64Array(componentSizes.length);
  for (let t = 0; t < sign.length; t++) {
    const c = 3 * triangles[3 * t + 2];
    const part = six(
      3 * triangles[3 * t],
      3 * triangles[3 * t + 1],
      positions[c] - ox,
      positions[c + 1] - oy,
      positions[c + 2] - oz,
    );
    volumes[component[t]] += (sign[t] * part) / 6;
  }
  return volumes;
}

/** Six times the volume between a point, two vertices given by the index of their coordinates, and a third corner relative to the point. */
function sixfold({ positions }: TriangleMesh, [ox, oy, oz]: Vec3) {
  return (a: number, b: number, x: number, y: number, z: number): number => {
    const ax = positions[a] - ox;
    const ay = positions[a + 1] - oy;
    const az = positions[a + 2] - oz;
    const bx = positions[b] - ox;
    const by = positions[b + 1] - oy;
    const bz = positions[b + 2] - oz;
    return (ay * bz - az * by) * x + (az * bx - ax * bz) * y + (ax * by - ay * bx) * z;
  };
}
