/** Measurements of one closed outline. Lengths mm, area mm². */
export interface OutlineMeasure {
  areaMm2: number;
  /** 2·sqrt(area/pi): the calibre of a round vessel with the same lumen. */
  equivalentMm: number;
  /** Smallest and largest caliper width. */
  minMm: number;
  maxMm: number;
  /** Area as a share of that of the convex hull: 1 for any oval, less for a waisted outline. */
  fullness: number;
  /** Centroid of the area, in the outline's own axes. */
  centroid: [number, number];
}

/**
 * Area and centroid by the shoelace formula; widths on the convex hull: the smallest width of a convex polygon is perpendicular to one of
 * its edges (Houle and Toussaint, IEEE Trans Pattern Anal Mach Intell 1988;10:761, from memory), the largest
 * is its diameter.
 * The widths are computed on demand, because most sections only serve to centre a line.
 * `outline`: u0 v0 u1 v1 …, either direction.
 */
export function measureOutline(outline: Float64Array): OutlineMeasure {
  const n = outline.length / 2;
  let doubled = 0;
  let cu = 0;
  let cv = 0;
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const w = outline[2 * j] * outline[2 * i + 1] - outline[2 * i] * outline[2 * j + 1];
    doubled += w;
    cu += (outline[2 * j] + outline[2 * i]) * w;
    cv += (outline[2 * j + 1] + outline[2 * i + 1]) * w;
  }
  const areaMm2 = Math.abs(doubled) / 2;
  let hull: [number, number][] | undefined;
  const hullOf = (): [number, number][] => {
    hull ??= convexHull(outline);
    return hull;
  };
  let widths: [number, number] | undefined;
  const widthsOf = (): [number, number] => {
    widths ??= caliperWidths(hullOf());
    return widths;
  };
  return {
    areaMm2,
    equivalentMm: 2 * Math.sqrt(areaMm2 / Math.PI),
    get minMm() {
      return widthsOf()[0];
    },
    get maxMm() {
      return widthsOf()[1];
    },
    get fullness() {
      const hullMm2 = areaOf(hullOf());
      return hullMm2 > 0 ? Math.min(1, areaMm2 / hullMm2) : 1;
    },
    centroid: doubled === 0 ? [0, 0] : [cu / (3 * doubled), cv / (3 * doubled)],
  };
}

function areaOf(points: readonly [number, number][]): number {
  let doubled = 0;
  points.forEach(([x, y], i) => {
    const [nx, ny] = points[(i + 1) % points.length];
    doubled += x * ny - nx * y;
  });
  return Math.abs(doubled) / 2;
}

/** Convex hull, counter-clockwise, by the monotone chain (Andrew, Inf Process Lett 1979;9:216, from memory). */
function convexHull(outline: Float64Array): [number, number][] {
  const points: [number, number][] = [];
  for (let i = 0; i < outline.length; i += 2) points.push([outline[i], outline[i + 1]]);
  points.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (ordered: [number, number][]): [number, number][] => {
    const chain: [number, number][] = [];
    for (const p of ordered) {
      while (chain.length >= 2 && turn(chain[chain.length - 2], chain[chain.length - 1], p) <= 0) chain.pop();
      chain.push(p);
    }
    chain.pop();
    return chain;
  };
  return [...half(points), ...half(points.reverse())];
}

const turn = (a: [number, number], b: [number, number], c: [number, number]): number =>
  (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

/** Edges shorter than this share of the hull's extent are rounding artefacts without a valid direction. */
const LEAST_EDGE = 1e-9;
/** More than any rounding of a width. */
const CLEARLY_MORE = 1 + 1e-9;

/**
 * Tests every edge against every corner: rotating calipers stall at coincident or collinear corners, and a hull has few corners.
 */
function caliperWidths(hull: readonly [number, number][]): [number, number] {
  const n = hull.length;
  const xs = Float64Array.from(hull, ([x]) => x);
  const ys = Float64Array.from(hull, ([, y]) => y);
  let squared = 0;
  for (let i = 0; i < n; i++) {
    const x = xs[i];
    const y = ys[i];
    for (let j = 0; j < i; j++) {
      const dx = x - xs[j];
      const dy = y - ys[j];
      const d = dx * dx + dy * dy;
      if (d > squared) squared = d;
    }
  }
  const largest = Math.sqrt(squared);
  let smallest = largest;
  if (n < 3) return [0, largest];
  let farthest = 0;
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const x = xs[j];
    const y = ys[j];
    const ex = xs[i] - x;
    const ey = ys[i] - y;
    const edge = Math.hypot(ex, ey);
    if (!(edge > LEAST_EDGE * largest)) continue;
    // an edge with a corner farther from it than this is not the one of the smallest width; the search begins at the farthest of the last
    const enough = smallest * edge * CLEARLY_MORE;
    let width = 0;
    for (let p = farthest, tried = 0; tried < n && width <= enough; tried++, p = p + 1 < n ? p + 1 : 0) {
      const out = ex * (ys[p] - y) - ey * (xs[p] - x);
      if (out > width) {
        width = out;
        farthest = p;
      }
    }
    smallest = Math.min(smallest, width / edge);
  }
  return [smallest, largest];
}
