import type { TriangleMesh } from '../mesh/mesh.js';
import type { SolidCheck } from './check-solid.js';
import type { WallMeasure } from './min-wall.js';
import type { SolidPart } from './print-job.js';

/** One body to print. */
export interface PrintedPart {
  name: string;
  /** `model`: the fused blood pool with its tag; `half`: of a cut model; `tag` and `strut`: a single one. */
  role: 'model' | 'half' | 'tag' | 'strut' | SolidPart['role'];
  /** Print coordinates, mm, each a 32-bit number. */
  mesh: TriangleMesh;
  check: SolidCheck;
  wall: WallMeasure;
  repairs: string[];
  colour: string;
  /** A structure next to the lesion that struts join to the model. */
  isHeld?: boolean;
}

/** A structure outside the lesion. */
export const isBeside = (part: PrintedPart): boolean => ['airway', 'heart', 'chest-wall'].includes(part.role);

/** The build items of the 3MF: the fused model, or the halves of a cut one, then the structures next to it that no rod holds. */
export const printedBodies = (parts: readonly PrintedPart[]): PrintedPart[] => {
  const isCut = parts.some((p) => p.role === 'half');
  return [
    ...parts.filter((p) => p.role === (isCut ? 'half' : 'model')),
    ...parts.filter((p) => isBeside(p) && !p.isHeld),
  ];
};

/** Structures in their own colours, at the place of the fused model, without overlap. */
export function shownTogether(parts: readonly PrintedPart[]): PrintedPart[] {
  if (parts.some((p) => p.role === 'half'))
    return parts.filter((p) => p.role === 'half' || (isBeside(p) && !p.isHeld));
  if (parts.some((p) => p.role === 'sac' || p.role === 'whole' || p.role === 'feeder'))
    return parts.filter((p) => p.role !== 'model');
  return parts.filter((p) => !p.isHeld);
}
