import type { Part } from '../case/case.js';
import { isVesselRole } from '../case/vocabulary.js';
import type { TriangleMesh } from '../mesh/mesh.js';

/** A structure's closed surface, mm, in the axes of the file; a large one as a coarser copy for pictures and print. */
export interface Structure {
  name: string;
  /** `whole`: one surface of the blood pool; `left-out`: what of it lies past the points of the case. */
  role: Part['role'] | 'whole' | 'left-out';
  mesh: TriangleMesh;
  /** The facing half-edge of each, where it is at hand. */
  twin?: Int32Array;
  of?: string;
  spare?: boolean;
}

/** The surfaces that bound blood: the one of the whole lesion, else vessels and sac. */
export function bloodSurfaces(structures: readonly Structure[]): readonly Structure[] {
  const whole = structures.filter(({ role }) => role === 'whole');
  return whole.length > 0 ? whole : structures.filter(({ role }) => isVesselRole(role) || role === 'sac');
}
