import { coarsened } from './coarsen.js';
import { measure } from './measures.js';
import type { TriangleMesh } from './mesh.js';

/** Larger surfaces are drawn and printed from a coarser copy, but measured as they are. */
const MOST_SHOWN_TRIANGLES = 60_000;
/** Target number of triangles of the copy. */
const SHOWN_TRIANGLES = 40_000;
/**
 * Bounds of the copy's edges, mm. An edge e on a vessel of radius r deviates by e²/8r: at most 0.04 mm at a calibre of
 * 1.5 mm, finer than a layer or dot of the printing processes in the rules and than a pixel of the figures.
 */
const SHOWN_EDGE_MM = [0.25, 0.5] as const;

/** A copy for pictures and print, and its edge length, mm. */
export interface CoarseCopy {
  mesh: TriangleMesh;
  edgeMm: number;
}

/** Whether a surface is drawn and printed from a coarser copy. */
export const isShownCoarser = (mesh: TriangleMesh): boolean =>
  mesh.triangles.length / 3 > MOST_SHOWN_TRIANGLES;

/** The copy, with the edge of `SHOWN_TRIANGLES` equilateral triangles that cover the surface, within the bounds. */
export function coarseCopy(mesh: TriangleMesh, twin?: Int32Array): CoarseCopy {
  const even = Math.sqrt(measure(mesh).areaMm2 / (SHOWN_TRIANGLES * (Math.sqrt(3) / 4)));
  const edgeMm = Math.min(SHOWN_EDGE_MM[1], Math.max(SHOWN_EDGE_MM[0], even));
  return { mesh: coarsened(mesh, edgeMm, twin), edgeMm };
}
