import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  FrontSide,
  Mesh,
  MeshPhongMaterial,
} from 'three';
import type { Blood, ShownStructure } from '../page-types.js';
import type { Line } from './reading.js';

function bytesOf(base64: string): DataView {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return new DataView(bytes.buffer);
}

/** Marks a vertex that is not on any centreline, where no rings are drawn. */
const NOWHERE = -1;

/** Vertices of a structure, mm. */
export function positionsOf(shown: ShownStructure): Float32Array {
  const grid = bytesOf(shown.positions);
  const positions = new Float32Array(grid.byteLength / 2);
  for (let i = 0; i < positions.length; i++)
    positions[i] = shown.origin[i % 3] + grid.getUint16(2 * i, true) * shown.stepMm;
  return positions;
}

/** Three vertices per triangle. */
export function indicesOf(shown: ShownStructure): Uint32Array {
  const packed = bytesOf(shown.triangles);
  const indices = new Uint32Array(packed.byteLength / shown.indexBytes);
  for (let i = 0; i < indices.length; i++)
    indices[i] = shown.indexBytes === 2 ? packed.getUint16(2 * i, true) : packed.getUint32(4 * i, true);
  return indices;
}

/** The surface of a structure, with the position of each vertex along its vessel, mm from the neck. */
export function geometryOf(shown: ShownStructure, line: Line | undefined): BufferGeometry {
  const positions = positionsOf(shown);
  const indices = indicesOf(shown);
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(positions, 3));
  geometry.setAttribute('along', new BufferAttribute(alongOf(positions, line), 1));
  geometry.setIndex(new BufferAttribute(indices, 1));
  geometry.computeVertexNormals();
  geometry.computeBoundingBox();
  geometry.computeBoundingSphere();
  return geometry;
}

function alongOf(positions: Float32Array, line: Line | undefined): Float32Array {
  const along = new Float32Array(positions.length / 3).fill(NOWHERE);
  if (!line) return along;
  const points = Float64Array.from(line.vessel.centreline.flat());
  const directions = new Float64Array(points.length);
  for (let i = 0; i < points.length; i += 3) {
    const [a, b] = [Math.max(0, i - 3), Math.min(points.length - 3, i + 3)];
    const d = [0, 1, 2].map((k) => points[b + k] - points[a + k]);
    const size = Math.hypot(...d) || 1;
    for (let k = 0; k < 3; k++) directions[i + k] = d[k] / size;
  }
  const end = line.vessel.neckAtMm ?? line.vessel.lengthMm;
  for (let v = 0; v < along.length; v++) {
    const [x, y, z] = [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
    let [nearest, least] = [0, Infinity];
    for (let i = 0; i < points.length; i += 3) {
      const d = (points[i] - x) ** 2 + (points[i + 1] - y) ** 2 + (points[i + 2] - z) ** 2;
      if (d < least) [nearest, least] = [i, d];
    }
    const beyond =
      (x - points[nearest]) * directions[nearest] +
      (y - points[nearest + 1]) * directions[nearest + 1] +
      (z - points[nearest + 2]) * directions[nearest + 2];
    along[v] = Math.max(0, end - line.at[nearest / 3] - beyond);
  }
  return along;
}

const PATTERNS: Readonly<Record<Blood, number>> = { none: 0, mixed: 0, deoxygenated: 1, oxygenated: 2 };

/** One structure as drawn; the appearance of its wall depends on four switches. */
export class Wall {
  readonly shown: ShownStructure;
  readonly mesh: Mesh<BufferGeometry, MeshPhongMaterial>;
  /** Opacity of the wall, 0..1, as set by the reader. */
  solid: number;
  private readonly pattern = { value: 0 };
  private readonly cutOpen = { value: 0 };
  private dim = false;
  private closed = false;
  private thin = false;

  constructor(shown: ShownStructure, line: Line | undefined) {
    this.shown = shown;
    this.solid = shown.solid;
    const material = new MeshPhongMaterial({ color: shown.colour, specular: 0x222222, shininess: 24 });
    this.pattern.value = PATTERNS[shown.blood];
    material.onBeforeCompile = (shader) => {
      shader.uniforms.bloodPattern = this.pattern;
      shader.uniforms.cutOpen = this.cutOpen;
      shader.vertexShader = shader.vertexShader
        .replace('#include <common>', '#include <common>\nattribute float along;\nvarying float vAlong;')
        .replace('#include <begin_vertex>', '#include <begin_vertex>\nvAlong = along;');
      shader.fragmentShader = shader.fragmentShader
        .replace(
          '#include <common>',
          '#include <common>\nvarying float vAlong;\nuniform float bloodPattern;\nuniform float cutOpen;',
        )
        .replace('#include <color_fragment>', `#include <color_fragment>\n${PATTERN_CODE}`)
        .replace('#include <opaque_fragment>', `${RIM_CODE}\n#include <opaque_fragment>`);
    };
    this.mesh = new Mesh(geometryOf(shown, line), material);
    this.mesh.userData.id = shown.id;
    this.update();
  }

  /** `dim`: another structure is in focus. `closed`: no blood flows here any more. `thin`: something inside is shown. */
  show(look: { dim: boolean; closed: boolean; thin: boolean }): void {
    this.dim = look.dim;
    this.closed = look.closed;
    this.thin = look.thin;
    this.update();
  }

  cut(open: boolean): void {
    this.cutOpen.value = open ? 1 : 0;
    this.update();
  }

  get opacity(): number {
    return this.solid * (this.dim ? 0.22 : 1) * (this.thin ? 0.4 : 1);
  }

  update(): void {
    const { material } = this.mesh;
    const see = this.opacity;
    this.mesh.visible = see > 0.02;
    const through = see < 0.995;
    if (material.transparent !== through) material.needsUpdate = true;
    material.transparent = through;
    material.depthWrite = !through || see > 0.6;
    material.opacity = see;
    const side = this.cutOpen.value ? DoubleSide : FrontSide;
    if (material.side !== side) material.needsUpdate = true;
    material.side = side;
    material.color = new Color(this.closed ? '#8c8c8c' : this.shown.colour);
    this.pattern.value = this.closed ? 3 : PATTERNS[this.shown.blood];
  }
}

/** Rings every 5 mm from the neck (every fourth one wide); slanted hatch; crossed hatch where closed. */
const PATTERN_CODE = `
  float mark = 0.0;
  float slant = gl_FragCoord.x + gl_FragCoord.y;
  if (bloodPattern > 0.5 && bloodPattern < 1.5 && vAlong >= 0.0) {
    float turn = vAlong / 5.0;
    float away = abs(fract(turn + 0.5) - 0.5) * 5.0;
    float px = fwidth(vAlong) + 1e-4;
    mark = 1.0 - smoothstep(0.22, 0.22 + px, away);
  } else if (bloodPattern > 1.5 && bloodPattern < 2.5) {
    mark = 0.6 * (1.0 - smoothstep(1.6, 2.6, abs(mod(slant, 12.0) - 6.0)));
  } else if (bloodPattern > 2.5) {
    float back = gl_FragCoord.x - gl_FragCoord.y;
    mark = 0.5 * (1.0 - smoothstep(0.8, 1.8, min(abs(mod(slant, 12.0) - 6.0), abs(mod(back, 12.0) - 6.0))));
  }
  diffuseColor.rgb *= 1.0 - 0.45 * mark;`;

/** Darker at the edge, as in a drawing; the inside of a cut is flat, so that the section looks like a filled face. */
const RIM_CODE = `
  float facing = abs(normalize(normal).z);
  outgoingLight *= 0.55 + 0.45 * smoothstep(0.0, 0.55, facing);
  if (cutOpen > 0.5 && !gl_FrontFacing) {
    outgoingLight = mix(diffuseColor.rgb, vec3(1.0), 0.45);
    diffuseColor.a = max(diffuseColor.a, 0.85);
  }`;
