import { BoxGeometry, type BufferGeometry, CapsuleGeometry, IcosahedronGeometry } from 'three';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { weld } from '../../src/mesh/weld.js';

// Shapes of three (MIT), welded.
function fromThree(geometry: BufferGeometry): TriangleMesh {
  const plain = geometry.index ? geometry.toNonIndexed() : geometry;
  const positions = Float64Array.from(plain.getAttribute('position').array);
  return weld({ positions, triangles: Uint32Array.from({ length: positions.length / 3 }, (_, i) => i) }, 1e-5)
    .mesh;
}

export const sphere = (radiusMm: number, detail: number): TriangleMesh =>
  fromThree(new IcosahedronGeometry(radiusMm, detail));

export const box = (x: number, y: number, z: number, pieces: number): TriangleMesh =>
  fromThree(new BoxGeometry(x, y, z, pieces, pieces, pieces));

/** A tube with this radius and straight length and hemispherical ends, along z, about the origin. */
export function capsule(radiusMm: number, lengthMm: number, around: number): TriangleMesh {
  const geometry = new CapsuleGeometry(radiusMm, lengthMm, around / 4, around, Math.ceil(lengthMm));
  geometry.rotateX(Math.PI / 2);
  return fromThree(geometry);
}
