/** What one closed outline measures. Lengths mm, area mm². */
export interface OutlineMeasure {
  areaMm2: number;
  /** 2·sqrt(area/pi): the calibre of a round vessel with the same lumen. */
  equivalentMm: number;
  /** Smallest and largest caliper width. */
  minMm: number;
  maxMm: number;
  /** Centroid of the area, in the outline's own axes. */
  centroid: [number, number];
}

/**
 * Area and centroid by the shoelace formula; widths by rotating calipers on the convex hull
 * (the smallest width of a convex polygon stands on one of its edges, the largest is its diameter).
 * The widths are worked out when they are asked for: most sections only serve to centre a line.
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
  let widths: [number, number] | undefined;
  const widthsOf = (): [number, number] => {
    widths ??= caliperWidths(convexHull(outline));
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
    centroid: doubled === 0 ? [0, 0] : [cu / (3 * doubled), cv / (3 * doubled)],
  };
}

/** Convex hull, counter-clockwise, by Andrew's monotone chain. */
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

function caliperWidths(hull: [number, number][]): [number, number] {
  const n = hull.length;
  if (n < 3) return [0, n === 2 ? Math.hypot(hull[1][0] - hull[0][0], hull[1][1] - hull[0][1]) : 0];
  let smallest = Number.POSITIVE_INFINITY;
  let largest = 0;
  let far = 1;
  for (let i = 0; i < n; i++) {
    const a = hull[i];
    const b = hull[(i + 1) % n];
    const edge = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (edge === 0) continue;
    while (turn(a, b, hull[(far + 1) % n]) > turn(a, b, hull[far])) far = (far + 1) % n;
    smallest = Math.min(smallest, turn(a, b, hull[far]) / edge);
    for (const p of [a, b]) largest = Math.max(largest, Math.hypot(p[0] - hull[far][0], p[1] - hull[far][1]));
  }
  return [smallest, largest];
}
