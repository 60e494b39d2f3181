import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';

/** Collects vertices and triangles in call order. */
export class MeshBuilder {
  private readonly coordinates: number[] = [];
  private readonly corners: number[] = [];

  /** Adds a vertex (mm) and returns its index. */
  vertex(point: Vec3): number {
    this.coordinates.push(point[0], point[1], point[2]);
    return this.coordinates.length / 3 - 1;
  }

  triangle(a: number, b: number, c: number): void {
    this.corners.push(a, b, c);
  }

  /** Strip between two rings of equal size; the ring turns counter-clockwise seen from the second ring's side. */
  band(first: readonly number[], second: readonly number[]): void {
    for (let j = 0; j < first.length; j++) {
      const next = (j + 1) % first.length;
      this.triangle(first[j], first[next], second[next]);
      this.triangle(first[j], second[next], second[j]);
    }
  }

  /** Fan from `centre` over a closed ring. */
  fan(centre: number, ring: readonly number[]): void {
    for (let j = 0; j < ring.length; j++) this.triangle(centre, ring[j], ring[(j + 1) % ring.length]);
  }

  mesh(): TriangleMesh {
    return { positions: Float64Array.from(this.coordinates), triangles: Uint32Array.from(this.corners) };
  }
}
