import { Matrix, solve } from 'ml-matrix';
import { dot, type Vec3 } from '../foundation/vector.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type GreyVolume, meanSpacing, valueAt, voxelMm } from '../volume/ct/grey-volume.js';
import type { WallPoint } from './wall-points.js';

/** Whether a surface matches its scan. Shift mm LPS. */
export interface SurfaceInScan {
  verdict: 'fits' | 'flipped' | 'shifted' | 'elsewhere';
  shiftMm: Vec3;
  /** The change that would fit, in words; absent if the surface fits or nothing does. */
  best?: string;
  /** Median contrast across the wall of the unchanged surface, HU; absent outside the scan. */
  contrastHu?: number;
  /** Upper quartile inside the wall, if the surface fits, HU. */
  lumenHu?: number;
  /** Share of the wall with contrast, unchanged and with the best change. */
  share: number;
  bestShare: number;
  voxelMm: number;
}

/** A change of a surface: signs of the axes, scale, then shift. */
interface Pose {
  sign: Vec3;
  scale: number;
  shift: Vec3;
}

const HERE: Pose = { sign: [1, 1, 1], scale: 1, shift: [0, 0, 0] };
/** How far inside and outside the wall the scan is sampled, beyond its blur, mm and voxels along the normal. */
const BESIDE_MM = 1.2;
const BESIDE_VOXELS = 0.9;
/** Step of the search for a shift, mm, and the number of points it uses. */
const SEARCH_STEP_MM = 2;
const SEARCH_POINTS = 240;
/** Number of best shifts that are refined, and the number of points used for each. */
const REFINED = 4;
const REFINE_POINTS = 500;
/** Shifts with a smaller share are not refined; another lesion could reach this by chance. */
const WORTH_REFINING = 0.25;
/** How far along the normal an edge is searched for when a pose is refined, mm. */
const EDGE_REACH_MM = 3;
const EDGE_STEP_MM = 0.25;
const ROUNDS = 12;
/** Lower limit of tissue denser than lung, HU, and the share of the wall that must border on lung if only that counts. */
const SOFT_HU = -300;
const LEAST_LUNG = 0.3;
/** Fewer points than this are not conclusive. */
const LEAST_POINTS = 50;

/** Signs of the axes, the likeliest mistake first, with what they mean. */
const FLIPS: readonly { sign: Vec3; words: string }[] = [
  { sign: [-1, -1, 1], words: 'negate x and y (the coordinates are in the other of LPS and RAS)' },
  { sign: [-1, 1, 1], words: 'negate x (left and right are exchanged)' },
  { sign: [1, -1, 1], words: 'negate y (front and back are exchanged)' },
  { sign: [1, 1, -1], words: 'negate z (head and feet are exchanged)' },
  { sign: [-1, 1, -1], words: 'negate x and z' },
  { sign: [1, -1, -1], words: 'negate y and z' },
  { sign: [-1, -1, -1], words: 'negate x, y and z' },
];
const SCALES: readonly { scale: number; words: string }[] = [
  { scale: 10, words: 'multiply by 10 (the coordinates are in cm)' },
  { scale: 0.1, words: 'divide by 10 (the coordinates are in mm where cm are stated)' },
  { scale: 25.4, words: 'multiply by 25.4 (the coordinates are in inches)' },
  { scale: 1 / 25.4, words: 'divide by 25.4 (the coordinates are in mm where inches are stated)' },
  { scale: 1000, words: 'multiply by 1000 (the coordinates are in m)' },
  { scale: 0.001, words: 'divide by 1000 (the coordinates are in mm where m are stated)' },
];

/**
 * Whether the wall of a surface is where the scan shows one: contrast is sampled all over the surface, unchanged, with negated axes,
 * shifted and in other units. No change is applied. Undefined if too few points of the wall remain to decide.
 */
export function surfaceInScan(
  points: readonly WallPoint[],
  volume: GreyVolume,
  rules: Pick<Rules, 'byId'>,
): SurfaceInScan | undefined {
  if (points.length < LEAST_POINTS) return undefined;
  const scan = new Witness(points, volume, rules);
  const least = numberOf(rules, 'frame-restored');
  const most = numberOf(rules, 'frame-largest-shift');
  const farthest = numberOf(rules, 'frame-shifted') * scan.voxelMm;
  const share = scan.share(HERE);
  const contrastHu = scan.contrast(HERE);
  const common = { share, voxelMm: scan.voxelMm, ...(contrastHu !== undefined && { contrastHu }) };
  const here = scan.refined(HERE);
  if (here.share >= least && norm(here.pose.shift) <= farthest)
    return {
      verdict: 'fits',
      shiftMm: here.pose.shift,
      ...common,
      bestShare: here.share,
      lumenHu: scan.lumen(HERE),
    };
  const shifted = best([here, ...scan.search(HERE, most)]);
  const flips = FLIPS.map(({ sign, words }) => ({ ...scan.refined({ ...HERE, sign }), words }));
  const flipped = best(flips);
  if (shifted.share >= least && shifted.share >= flipped.share)
    return {
      verdict: 'shifted',
      shiftMm: shifted.pose.shift,
      best: `shift by (${words(shifted.pose.shift)}) mm, LPS`,
      ...common,
      bestShare: shifted.share,
    };
  if (flipped.share >= least)
    return {
      verdict: 'flipped',
      shiftMm: flipped.pose.shift,
      best: withShift(flipped.words, flipped.pose.shift, farthest),
      ...common,
      bestShare: flipped.share,
    };
  const scales = SCALES.map(({ scale, words }) => ({ ...scan.refined({ ...HERE, scale }), words }));
  const scaled = best(scales);
  if (scaled.share >= least)
    return {
      verdict: 'elsewhere',
      shiftMm: scaled.pose.shift,
      best: withShift(scaled.words, scaled.pose.shift, farthest),
      ...common,
      bestShare: scaled.share,
    };
  const both = FLIPS.flatMap(({ sign, words }) =>
    scan.search({ ...HERE, sign }, most).map((found) => ({ ...found, words })),
  ).filter((found) => found.share >= least);
  if (both.length > 0) {
    const { pose, share: bestShare, words } = best(both);
    return {
      verdict: 'flipped',
      shiftMm: pose.shift,
      best: withShift(words, pose.shift, farthest),
      ...common,
      bestShare,
    };
  }
  return { verdict: 'elsewhere', shiftMm: shifted.pose.shift, ...common, bestShare: shifted.share };
}

const norm = (v: Vec3): number => Math.hypot(...v);
const words = (v: Vec3): string => v.map((x) => (Math.round(x * 10) / 10 + 0).toFixed(1)).join(', ');
const withShift = (change: string, shift: Vec3, farthest: number): string =>
  norm(shift) > farthest ? `${change}, then shift by (${words(shift)}) mm, LPS` : change;

interface Tried {
  pose: Pose;
  share: number;
}

const best = <T extends Tried>(tried: readonly T[]): T =>
  tried.reduce((a, b) => (b.share > a.share + 1e-9 ? b : a));

class Witness {
  readonly voxelMm: number;
  private readonly points: readonly WallPoint[];
  private readonly volume: GreyVolume;
  private readonly full: number;
  private readonly faint: number;
  private readonly spacing: Vec3;

  constructor(points: readonly WallPoint[], volume: GreyVolume, rules: Pick<Rules, 'byId'>) {
    this.points = points;
    this.volume = volume;
    this.full = numberOf(rules, 'frame-wall-contrast');
    this.faint = numberOf(rules, 'scan-faint');
    this.spacing = meanSpacing(volume);
    this.voxelMm = voxelMm(volume);
  }

  /** About `count` of the points, evenly sampled. */
  private some(count: number): WallPoint[] {
    const every = Math.max(1, Math.round(this.points.length / count));
    return this.points.filter((_, i) => i % every === 0);
  }

  /** Spacing of the scan along a direction, mm. */
  private spacingAlong(n: Vec3): number {
    const { columnStep, rowStep, normal } = this.volume.stack;
    const c = this.spacing[2];
    return Math.hypot(dot(n, columnStep), dot(n, rowStep), dot(n, normal) * c);
  }

  private placed({ at, outward }: WallPoint, { sign, scale, shift }: Pose): { p: Vec3; n: Vec3 } {
    return {
      p: [0, 1, 2].map((k) => at[k] * sign[k] * scale + shift[k]) as Vec3,
      n: [0, 1, 2].map((k) => outward[k] * sign[k]) as Vec3,
    };
  }

  private reachAlong(n: Vec3): number {
    return Math.max(BESIDE_MM, BESIDE_VOXELS * this.spacingAlong(n));
  }

  private beside(point: WallPoint, pose: Pose): [inside: number, outside: number] {
    const { p, n } = this.placed(point, pose);
    const d = this.reachAlong(n);
    const at = (s: number): number => valueAt(this.volume, p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2]);
    return [at(-d), at(d)];
  }

  /**
   * Share of the wall that has contrast, -1 to 1: dark inside counts against bright inside, outside the scan counts as no contrast. In a
   * scan without contrast agent the wall against soft tissue shows none, so only the wall against lung counts, if that is a sufficient
   * share.
   */
  share(pose: Pose): number {
    const beside = this.points.map((point) => this.beside(point, pose));
    const lumen = quantile(
      beside.map(([inside]) => inside),
      0.75,
    );
    const againstLung = beside.filter(([, outside]) => !(outside > SOFT_HU));
    const isFaint = lumen !== undefined && lumen < this.faint;
    const counted = isFaint && againstLung.length >= LEAST_LUNG * beside.length ? againstLung : beside;
    const sum = counted.reduce((total, [inside, outside]) => {
      const step = (inside - outside) / this.full;
      return Number.isNaN(step) ? total : total + Math.max(-1, Math.min(1, step));
    }, 0);
    return sum / counted.length;
  }

  contrast(pose: Pose): number | undefined {
    return quantile(
      this.points.map((point) => {
        const [inside, outside] = this.beside(point, pose);
        return inside - outside;
      }),
      0.5,
    );
  }

  /** Upper quartile inside the wall, because thin vessels are blurred to less. */
  lumen(pose: Pose): number | undefined {
    return quantile(
      this.points.map((point) => this.beside(point, pose)[0]),
      0.75,
    );
  }

  /** The inside and outside samples of some of the points, six numbers each. */
  private sides(pose: Pose): Float64Array {
    return Float64Array.from(
      this.some(SEARCH_POINTS).flatMap((point) => {
        const { p, n } = this.placed(point, pose);
        const d = this.reachAlong(n);
        return [...p.map((x, k) => x - d * n[k]), ...p.map((x, k) => x + d * n[k])];
      }),
    );
  }

  private shareOf(sides: Float64Array, [x, y, z]: Vec3): number {
    let sum = 0;
    for (let i = 0; i < sides.length; i += 6) {
      const inside = valueAt(this.volume, sides[i] + x, sides[i + 1] + y, sides[i + 2] + z);
      const outside = valueAt(this.volume, sides[i + 3] + x, sides[i + 4] + y, sides[i + 5] + z);
      const step = (inside - outside) / this.full;
      if (!Number.isNaN(step)) sum += Math.max(-1, Math.min(1, step));
    }
    return (6 * sum) / sides.length;
  }

  /** Best shifts of a surface up to `most` mm, refined; none if nothing comes close. */
  search(from: Pose, most: number): Tried[] {
    const sides = this.sides(from);
    const found: Tried[] = [];
    const steps = Math.floor(most / SEARCH_STEP_MM);
    for (let i = -steps; i <= steps; i++)
      for (let j = -steps; j <= steps; j++)
        for (let k = -steps; k <= steps; k++) {
          const shift = [i, j, k].map((s) => s * SEARCH_STEP_MM) as Vec3;
          if (norm(shift) > most) continue;
          const share = this.shareOf(sides, shift);
          const least = found.length === REFINED ? found[REFINED - 1].share : WORTH_REFINING;
          if (share <= least) continue;
          found.push({ pose: { ...from, shift }, share });
          found.sort((a, b) => b.share - a.share);
          found.length = Math.min(found.length, REFINED);
        }
    return found.map(({ pose }) => this.refined(pose)).filter(({ pose }) => norm(pose.shift) <= most + 1);
  }

  /**
   * The pose with the shift that brings the wall onto the edges of the scan: along each normal the half level between the brightest value
   * inside and the darkest outside; shift and one uniform offset by least squares with biweights, so that structures in only one of both,
   * or a wall drawn too wide, do not bias it.
   */
  refined(from: Pose): Tried {
    let pose = from;
    let scale = EDGE_REACH_MM / 2;
    const points = this.some(REFINE_POINTS);
    for (let round = 0; round < ROUNDS; round++) {
      const edges: { n: Vec3; off: number }[] = [];
      for (const point of points) {
        const { p, n } = this.placed(point, pose);
        const off = this.edgeAlong(p, n);
        if (off !== undefined) edges.push({ n, off });
      }
      if (edges.length < LEAST_POINTS) break;
      const step = fittedShift(edges, scale);
      if (step === undefined) break;
      pose = { ...pose, shift: pose.shift.map((x, k) => x + step[k]) as Vec3 };
      scale = Math.max(this.voxelMm / 2, scale * 0.75);
      if (norm(step) < 0.002) break;
    }
    const share = this.share(pose);
    const before = this.share(from);
    return share >= before - 0.02 ? { pose, share } : { pose: from, share: before };
  }

  /** Position along the normal of the half level from lumen to outside, mm outwards; undefined without an edge. */
  private edgeAlong(p: Vec3, n: Vec3): number | undefined {
    const count = Math.round((2 * EDGE_REACH_MM) / EDGE_STEP_MM) + 1;
    const at = (i: number): number => -EDGE_REACH_MM + i * EDGE_STEP_MM;
    const values = new Float64Array(count);
    for (let i = 0; i < count; i++) {
      const s = at(i);
      values[i] = valueAt(this.volume, p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2]);
      if (Number.isNaN(values[i])) return undefined;
    }
    let low = count - 1;
    let best: number | undefined;
    // the falling edge nearest to the wall, with its plateau on either side
    for (let i = 1; i < count; i++) {
      if (values[i] >= values[i - 1]) continue;
      let from = i - 1;
      while (from > 0 && values[from - 1] > values[from]) from--;
      low = i;
      while (low < count - 1 && values[low + 1] < values[low]) low++;
      const [high, deep] = [values[from], values[low]];
      if (high - deep >= this.full) {
        const half = (high + deep) / 2;
        let k = from;
        while (values[k + 1] > half) k++;
        const s = at(k) + (EDGE_STEP_MM * (values[k] - half)) / (values[k] - values[k + 1]);
        if (best === undefined || Math.abs(s) < Math.abs(best)) best = s;
      }
      i = low;
    }
    return best;
  }
}

function quantile(values: readonly number[], share: number): number | undefined {
  const known = values.filter((v) => !Number.isNaN(v)).sort((a, b) => a - b);
  return known.length === 0 ? undefined : known[Math.floor(share * (known.length - 1))];
}

/** Shift (and a uniform offset, discarded) that explains the offsets along the normals; undefined if they do not determine it. */
function fittedShift(edges: readonly { n: Vec3; off: number }[], reach: number): Vec3 | undefined {
  const weights = edges.map(({ off }) => biweight(off, 3 * reach));
  const normal = Matrix.zeros(4, 4);
  const right = Matrix.zeros(4, 1);
  edges.forEach(({ n, off }, i) => {
    const row = [...n, 1];
    for (let a = 0; a < 4; a++) {
      right.set(a, 0, right.get(a, 0) + weights[i] * row[a] * off);
      for (let b = 0; b < 4; b++) normal.set(a, b, normal.get(a, b) + weights[i] * row[a] * row[b]);
    }
  });
  const total = weights.reduce((a, b) => a + b, 0);
  if (!(total > LEAST_POINTS / 2)) return undefined;
  // normals that all lie in one plane leave one direction undetermined, so there is no shift along it
  for (let a = 0; a < 4; a++) normal.set(a, a, normal.get(a, a) + 1e-3 * total);
  const found = solve(normal, right).to1DArray();
  return found.every(Number.isFinite) ? (found.slice(0, 3) as Vec3) : undefined;
}

const biweight = (x: number, reach: number): number =>
  Math.abs(x) >= reach ? 0 : (1 - (x / reach) ** 2) ** 2;
