import { cheapestSpread, wayBefore } from '../grid/cheapest-spread.js';
import { LUNG_HU, SOFT_HU } from './opacified.js';
import { beside, gathered, type ScanRegion } from './scan-region.js';

/** Least share of the contrast against lung for a place between two bright ones of a thin vessel. */
const FAINT = 0.6;
/** Values below this next to a thin vessel are lung within its blur, HU. */
const LUNG_BESIDE_HU = -300;
/** Extra cost of a step through soft tissue compared with the lumen. */
const DIM_COSTS = 3;

/**
 * 1 for places of at least `bright` HU that are connected to the inside of a surface by such places; in lung, single fainter ones may be
 * between them.
 */
export function reachedFrom({ grey, owner, size }: ScanRegion, bright: number, lumenHu: number): Uint8Array {
  const faint = LUNG_HU + FAINT * (lumenHu - LUNG_HU);
  const out = new Uint8Array(grey.length);
  const stack: number[] = [];
  for (let place = 0; place < grey.length; place++)
    if (owner[place] > 0 && grey[place] >= bright) {
      out[place] = 1;
      stack.push(place);
    }
  while (stack.length > 0) {
    const place = stack.pop()!;
    const isBright = grey[place] >= bright;
    beside({ size }, place, (other) => {
      if (out[other] === 1) return;
      if (!(grey[other] >= bright || (isBright && grey[other] >= faint && isByLung(other)))) return;
      out[other] = 1;
      stack.push(other);
    });
  }
  return out;

  /** A fainter place is part of a thin vessel only if lung is next to it; otherwise it is soft tissue. */
  function isByLung(place: number): boolean {
    let found = false;
    beside({ size }, place, (other) => {
      if (grey[other] < LUNG_BESIDE_HU) found = true;
    });
    return found;
  }
}

/** Places just outside the shell where the connected region leaves it, by junction; the largest first. */
export function patchesOf(region: ScanRegion, shell: Uint8Array, reached: Uint8Array): number[][] {
  const isRim = new Uint8Array(shell.length);
  for (let place = 0; place < shell.length; place++) {
    if (reached[place] === 0 || shell[place] === 1) continue;
    let touches = false;
    beside(region, place, (other) => {
      if (shell[other] === 1 && reached[other] === 1) touches = true;
    });
    if (touches) isRim[place] = 1;
  }
  const seen = new Uint8Array(isRim.length);
  const patches: number[][] = [];
  for (let place = 0; place < isRim.length; place++)
    if (isRim[place] === 1 && seen[place] === 0)
      patches.push(gathered(region, place, seen, (other) => isRim[other] === 1));
  return patches.filter(({ length: count }) => count >= 2).sort((a, b) => b.length - a.length);
}

/** A piece that leaves the surfaces at one junction. */
export interface Piece {
  /** The places of the junction. */
  patch: number[];
  /** The path from the junction to the farthest place that is nearer to it than to any other junction. */
  way: number[];
}

/** One piece for each junction; deeper steps cost less. */
export function piecesOf(
  region: ScanRegion,
  shell: Uint8Array,
  reached: Uint8Array,
  depth: Float32Array,
  patches: readonly number[][],
): Piece[] {
  // the deepest place of a junction is its middle
  const middles = patches.map((patch) =>
    patch.reduce((best, place) => (depth[place] > depth[best] ? place : best), patch[0]),
  );
  const label = new Map(middles.map((middle, p) => [middle, p]));
  const farthest = patches.map((patch) => ({ place: patch[0], cost: -1 }));
  const { before } = cheapestSpread(middles, (place, cost, offer) => {
    const p = label.get(place)!;
    if (cost > farthest[p].cost) farthest[p] = { place, cost };
    beside(region, place, (other, steps) => {
      if (reached[other] === 0 || shell[other] === 1) return;
      if (offer(other, steps * region.stepMm * (1 + 1.5 / (0.3 + depth[other])))) label.set(other, p);
    });
    return undefined;
  });
  return patches.map((patch, p) => ({ patch, way: wayBefore(before, farthest[p].place) }));
}

/**
 * The brightest short path from a junction through the shell to a surface: the place on the surface where it ends, and the path from
 * there to the junction, excluding both. Undefined if the shell has none.
 */
export function wayToSurface(
  region: ScanRegion,
  shell: Uint8Array,
  reached: Uint8Array,
  junction: number,
  lumenHu: number,
): { surface: number; way: number[] } | undefined {
  const { grey, owner } = region;
  let surface: number | undefined;
  const { before } = cheapestSpread([junction], (place, _, offer) => {
    if (owner[place] > 0) {
      surface = place;
      return true;
    }
    beside(region, place, (other, steps) => {
      if (reached[other] === 0 || shell[other] === 0) return;
      const dim = Math.min(1, Math.max(0, (lumenHu - grey[other]) / (lumenHu - SOFT_HU)));
      offer(other, steps * (1 + DIM_COSTS * dim));
    });
    return undefined;
  });
  if (surface === undefined) return undefined;
  return { surface, way: wayBefore(before, surface).slice(1, -1).reverse() };
}
