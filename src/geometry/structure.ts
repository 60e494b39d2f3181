import type { Part } from '../case/case.js';
import { isVesselRole } from '../case/vocabulary.js';
import type { TriangleMesh } from '../mesh/mesh.js';

/** A structure's closed surface, mm, in the axes of the file. For pictures and print a large surface is replaced by a coarser copy. */
export interface Structure {
  name: string;
  /** `whole`: one surface of the blood pool; `left-out`: the part of it beyond the points of the case. */
  role: Part['role'] | 'whole' | 'left-out';
  mesh: TriangleMesh;
  /** The facing half-edge of each, if available. */
  twin?: Int32Array;
  of?: string;
  spare?: boolean;
}

/** The surfaces of the blood pool: that of the whole lesion if there is one, otherwise those of the vessels and the sac. */
export function bloodSurfaces(structures: readonly Structure[]): readonly Structure[] {
  const whole = structures.filter(({ role }) => role === 'whole');
  return whole.length > 0 ? whole : structures.filter(({ role }) => isVesselRole(role) || role === 'sac');
}
