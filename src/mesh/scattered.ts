import { type EdgePairing, RIM } from './edge-pairing.js';
import { refuse } from './read/mesh-file.js';

/**
 * Greatest number of pieces and open edges of one surface. Every piece and opening is described, so their number, unlike that of the
 * triangles, determines the memory. A noisy segmentation of the lung has a few thousand of both.
 */
export const MOST_PIECES = 250_000;
export const MOST_RIM_EDGES = 1_000_000;

/** Number of rim edges. */
export function rimEdgeCount({ twin }: Pick<EdgePairing, 'twin'>): number {
  let count = 0;
  for (let h = twin.indexOf(RIM); h >= 0; h = twin.indexOf(RIM, h + 1)) count++;
  return count;
}

/** Throws InputFailure (3) if the triangles form so many loose pieces that they are not a surface. */
export function refuseScattered(pairing: EdgePairing, shown: string): void {
  const pieces = pairing.componentSizes.length;
  const openEdges = rimEdgeCount(pairing);
  const what =
    pieces > MOST_PIECES
      ? `it falls into ${pieces} loose pieces, more than the ${MOST_PIECES}`
      : openEdges > MOST_RIM_EDGES
        ? `it has ${openEdges} open edges, more than the ${MOST_RIM_EDGES}`
        : undefined;
  if (what)
    refuse(
      shown,
      '',
      `${what} that a surface may have`,
      'Export the surface again so that neighbouring triangles share their corners, and remove noise',
    );
}
