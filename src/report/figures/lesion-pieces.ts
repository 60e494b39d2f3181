/** Splits the surfaces of a case into structures: one surface of the whole lesion becomes vessels and sac. */
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Result } from '../../result/result.generated.js';
import { entryOf, orderedVessels } from '../words.js';
import { splitWhole } from './split-whole.js';

/**
 * A surface of the case, mm, in the axes of the file. `whole` is one surface of the blood pool, `left-out` the part that was cut off from
 * it.
 */
export interface CaseSurface {
  name: string;
  role: string;
  mesh: TriangleMesh;
  of?: string;
  spare?: boolean;
}

/**
 * A structure to show. The role stays `whole` if no centreline was found to divide the surface by; `unnamed` is the part that belongs to
 * no measured vessel.
 */
export interface LesionPiece {
  name: string;
  role: string;
  of?: string;
  spare: boolean;
  supplies?: string;
  mesh: TriangleMesh;
}

/**
 * The surfaces that are shown. A sac that was cut out of a whole surface is left out, because the pieces of the whole already show it.
 */
export function shownSurfaces<T extends CaseSurface>(result: Result, surfaces: readonly T[]): T[] {
  const divided = surfaces.some(({ role }) => role === 'whole') && hasCentrelines(result);
  return surfaces.filter(({ role, mesh }) => mesh.triangles.length > 0 && !(divided && role === 'sac'));
}

/** The pieces of each surface that is shown, in order. */
export function lesionPieces(result: Result, surfaces: readonly CaseSurface[]): LesionPiece[] {
  return shownSurfaces(result, surfaces).flatMap((surface) => {
    if (surface.role === 'whole') return piecesOfWhole(result, surface);
    const vessel = entryOf(result.vessels, surface.name);
    return [{ ...surface, spare: surface.spare ?? vessel?.spare ?? false, supplies: vessel?.supplies }];
  });
}

function piecesOfWhole(result: Result, { name, mesh }: CaseSurface): LesionPiece[] {
  if (!hasCentrelines(result)) return [{ name, role: 'whole', spare: false, mesh }];
  return splitWhole(mesh, orderedVessels(result), result.sac?.centre_mm).map((piece) => {
    const own = piece.vessel === undefined ? undefined : entryOf(result.vessels, piece.vessel);
    if (piece.vessel === undefined || !own) {
      const rest = piece.isSac ? { name: 'sac', role: 'sac' } : { name: 'rest', role: 'unnamed' };
      return { ...rest, spare: false, mesh: piece.mesh };
    }
    return {
      name: piece.vessel,
      role: own.role,
      of: own.of,
      spare: own.spare ?? false,
      supplies: own.supplies,
      mesh: piece.mesh,
    };
  });
}

const hasCentrelines = (result: Result): boolean =>
  Object.values(result.vessels).some((vessel) => (vessel.centreline_mm?.length ?? 0) > 1);
