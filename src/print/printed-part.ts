import type { TriangleMesh } from '../mesh/mesh.js';
import type { SolidCheck } from './check-solid.js';
import type { WallMeasure } from './min-wall.js';
import type { SolidPart } from './print-job.js';

/** One body to print. */
export interface PrintedPart {
  name: string;
  /** `model`: the fused blood pool with its tag; `tag`: the tag alone. */
  role: 'model' | 'tag' | SolidPart['role'];
  /** Print coordinates, mm, each a 32-bit number. */
  mesh: TriangleMesh;
  check: SolidCheck;
  wall: WallMeasure;
  repairs: string[];
  colour: string;
}
