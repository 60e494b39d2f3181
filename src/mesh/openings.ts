import { type BoundaryLoop, isNarrow } from './boundary-loops.js';
import { CAP_PLANARITY_FRACTION } from './cap.js';
import { loopWidths } from './mend.js';
import type { TriangleMesh } from './mesh.js';
import type { Topology } from './topology.js';

/** An opening of a surface, classified by its shape. */
export interface Opening {
  loop: BoundaryLoop;
  /** `end`: round, planar and wide enough for the end of a vessel; `crack`: any other opening, including holes. */
  kind: 'end' | 'crack';
  /** Diameter of the largest circle that fits in it, mm; absent if it could not be determined. */
  widthMm?: number;
}

/** An opening narrower than this, mm, is not an end of a vessel: half the thinnest vessel that is measured. */
export const LEAST_END_MM = 0.5;

/** The openings of a surface: ends of vessels first, by their diameter, then cracks and holes by their width; largest first. */
export function openingsBySize(mesh: TriangleMesh, topology: Topology): Opening[] {
  const widths = loopWidths(mesh, topology);
  const openings = topology.loops.map((loop, i): Opening => {
    const { closed, planarityMm, equivalentDiameterMm } = loop;
    const isEnd =
      closed &&
      !isNarrow(loop) &&
      equivalentDiameterMm >= LEAST_END_MM &&
      planarityMm <= CAP_PLANARITY_FRACTION * equivalentDiameterMm;
    return { loop, kind: isEnd ? 'end' : 'crack', ...(widths[i] !== undefined && { widthMm: widths[i] }) };
  });
  const size = ({ kind, loop, widthMm }: Opening): number =>
    kind === 'end' ? loop.equivalentDiameterMm : (widthMm ?? loop.equivalentDiameterMm);
  return openings.sort((a, b) =>
    a.kind === b.kind ? size(b) - size(a) || lowest(a) - lowest(b) : a.kind === 'end' ? -1 : 1,
  );
}

const lowest = ({ loop }: Opening): number => loop.halfEdges[0];
