import type { Finding } from '../../src/foundation/finding.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import {
  add,
  cross,
  distance,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import type { VesselMeasure } from '../../src/geometry/measure.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { closeEnds } from '../../src/mesh/close-ends.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { fuseLesion, type LesionPlan, type Vessel, vesselsOf } from '../../src/phantoms/lesion.js';
import { treeLesion } from '../../src/phantoms/vessel-tree.js';
import { DEFINITIONS } from '../geometry/make.js';
import { planeCut, solidAngleWinding } from '../geometry/plane-cut.js';
import { resurfaced } from '../geometry/voxelised.js';

export const DEFECTS = ['plain', 'noise', 'fused neighbour', 'missing cap', 'islands', 'hole'] as const;
export type Defect = (typeof DEFECTS)[number];

/** The tree of a seed: the defect of its surface, and how it is grown and meshed; three in ten have more triangles. */
export function kindOf(seed: number): { defect: Defect; shape: TreeShape } {
  const i = seed - 1;
  return {
    defect: DEFECTS[i % DEFECTS.length],
    shape: {
      forks: 2 + (Math.floor(i / DEFECTS.length) % 2),
      twigs: i % 4 >= 2,
      subdivided: i % 100 === 99 ? 3 : i % 35 === 34 ? 2 : i % 7 === 6 ? 1 : 0,
    },
  };
}

/** The outcome for one vessel of a tree. */
export interface Outcome {
  seed: number;
  defect: Defect;
  vessel: string;
  /** Right; wrong, but a caution says so; stopped, without values; wrong without any caution. */
  end: 'right' | 'warned' | 'stopped' | 'silent';
  /** What was wrong, and what was found. */
  why: string;
  voxelMm: number;
  triangles: number;
  samples: Samples;
  /** Error, mm: of the neck, where the calibre rises fast enough there to have a position; of the length. */
  neckOffMm?: number;
  lengthOffMm?: number;
}

/** Samples of one vessel against an independent cut, an independent inside test, and the truth. */
interface Samples {
  asked: number;
  inside: number;
  /** Calibre against that of the independent cut of the same surface, as a fraction of it, one for each sample cut. */
  cutOff: number[];
  /** From 3 voxels up, away from forks and flares: how many, and in how many the 95 % interval contains the truth. */
  known: number;
  held: number;
}

/** A tree of a seed as a surface from voxels, and what was measured on it. */
interface MeasuredTree {
  plan: LesionPlan;
  voxelMm: number;
  vessels: VesselMeasure[];
  findings: Finding[];
  mesh: TriangleMesh;
}

/** How a tree is grown and meshed. */
export interface TreeShape {
  /** Forks along each stem. */
  forks: number;
  /** Side branches have branches of their own. */
  twigs?: boolean;
  /** How many times each triangle is split into four. */
  subdivided?: number;
}

/** Grows a tree, makes it into a surface and measures it. */
export function measureTree(
  seed: number,
  defect: Defect,
  { forks, twigs = false, subdivided = 0 }: TreeShape,
): MeasuredTree {
  const next = mulberry32(seed * 7919 + 1);
  const voxelMm = 0.6 + 0.4 * next();
  const overlap = defect === 'fused neighbour' ? { overlapMm: 0.5 * voxelMm } : {};
  const plan = treeLesion({ seed, forks, gapMm: 2.5 * voxelMm, twigs, ...overlap });
  let mesh = spoiled(surfaceOf(plan, voxelMm, defect, next), plan, defect, next);
  for (let i = 0; i < subdivided; i++) mesh = quartered(mesh);
  const scan = { inPlaneMm: voxelMm, sliceThicknessMm: voxelMm };
  const vessels = vesselsOf(plan);
  const named = plan.vessels.filter((v) => v.role !== 'branch' || v.name.startsWith('B'));
  try {
    const label = { label: 'whole', shown: 'tree.stl' };
    const loaded = prepareSurface(
      { format: 'stl-binary', objects: [{ name: 'tree', mesh }], notes: [] },
      { unitMm: 1, ...label },
    );
    const closed = closeEnds(loaded, label);
    const measured = measureWhole(
      {
        mesh: closed.mesh,
        capTriangles: closed.capTriangles,
        ends: named.map(({ name, role, of }) => ({
          name,
          role,
          ...(of !== undefined && { of }),
          point: vessels.get(name)!.axis.pointAt(1.5),
          where: name,
        })),
        sac: { point: plan.sac.centreMm, where: 'sac' },
        offeredEnds: [],
      },
      DEFINITIONS,
      { scan, hasAxes: false },
    );
    return {
      plan,
      voxelMm,
      vessels: measured.lesion.vessels,
      findings: [...loaded.findings, ...closed.findings, ...measured.findings],
      mesh: closed.mesh,
    };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    const why = error.message.slice(0, 200);
    const findings = named.map(({ name: where }): Finding => ({ id: why, level: 'stop', where, text: why }));
    return { plan, voxelMm, vessels: [], findings, mesh };
  }
}

/** Each triangle as four: the same surface, more triangles. */
function quartered({ positions, triangles }: TriangleMesh): TriangleMesh {
  const points = [...positions];
  const middles = new Map<number, number>();
  const count = positions.length / 3;
  const middle = (a: number, b: number): number => {
    const key = Math.min(a, b) * count + Math.max(a, b);
    const known = middles.get(key);
    if (known !== undefined) return known;
    const made = points.length / 3;
    for (let k = 0; k < 3; k++) points.push((positions[3 * a + k] + positions[3 * b + k]) / 2);
    middles.set(key, made);
    return made;
  };
  const finer = new Uint32Array(4 * triangles.length);
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = triangles.subarray(t, t + 3);
    const [ab, bc, ca] = [middle(a, b), middle(b, c), middle(c, a)];
    finer.set([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], 4 * t);
  }
  return { positions: Float64Array.from(points), triangles: finer };
}

/** Cautions that account for a wrong value of their vessel, by what is wrong. */
const OWNS_UP: Record<string, readonly string[]> = {
  'neighbour-fused': ['neck', 'length', 'join', 'place', 'calibre', 'cut'],
  'branch-not-joined': ['length', 'join'],
  'branch-not-measured': ['place'],
  'neck-soft': ['neck', 'length'],
  'neck-places-differ': ['neck', 'length'],
};

/** A tree of a seed as a surface from voxels, measured and compared. */
export function tryTree(seed: number, defect: Defect, shape: TreeShape): Outcome[] {
  const found = measureTree(seed, defect, shape);
  const truth = truthOf(found.plan);
  const { voxelMm } = found;
  return [...truth].map(([name, exact]): Outcome => {
    const vessel = found.vessels.find((v) => v.name === name);
    const said = found.findings.filter(({ where, level }) => where === name && level !== 'note');
    const common = { seed, defect, vessel: name, voxelMm, triangles: found.mesh.triangles.length / 3 };
    const ids = said.map((f) => f.id);
    if (!vessel) {
      const isNamed = said.some(({ level }) => level === 'stop');
      const why = isNamed ? said.map((f) => `${f.id}: ${f.text}`).join('; ') : 'missing without a word';
      return { ...common, end: isNamed ? 'stopped' : 'silent', why, samples: NO_SAMPLES };
    }
    const soft = said.find(({ id }) => id === 'neck-soft')?.text;
    const { wrong, ...judged } = judge(vessel, exact, found.mesh, defect, voxelMm, soft);
    const isOwned = wrong.every(({ what }) => ids.some((id) => OWNS_UP[id]?.includes(what)));
    const end = wrong.length === 0 ? 'right' : isOwned ? 'warned' : 'silent';
    return { ...common, end, why: [...wrong.map(({ text }) => text), ...ids].join('; '), ...judged };
  });
}

interface VesselTruth {
  /** Where a branch's axis reaches its parent's wall, mm from its far end. */
  joinsAtMm?: number;
  /** Position on the tree's own axis nearest to a point, mm from the far end. */
  along(point: Vec3): number;
  /** The neck, and how fast the calibre rises there, mm per mm; a branch has none. */
  neck?: { atMm: number; riseAtNeck: number };
  calibreAt(s: number): number;
  /** Stretches at the mouth of a branch, where the bare calibre is not that of the section. */
  branches: { name: string; atMm: number; calibreMm: number; fromMm: number; toMm: number }[];
}

/** Necks and calibres of the named vessels, from the tree itself. */
function truthOf(plan: LesionPlan): Map<string, VesselTruth> {
  const vessels = vesselsOf(plan);
  const { field, beyondMm } = fuseLesion(plan);
  // V2, the fused neighbour, is not named
  const own = [...vessels.values()].filter(({ plan: v }) => v.role !== 'branch' || v.name.startsWith('B'));
  return new Map<string, VesselTruth>(
    own.map((vessel) => {
      const { name } = vessel.plan;
      const branches = [...vessels.values()]
        .filter((b) => b.plan.of === name)
        .map((b) => {
          const reach = vessel.calibreAt(b.plan.leavesAtMm!) / 2 + 1.2 * b.calibreAt(0) + 1;
          const atMm = b.plan.leavesAtMm!;
          const calibreMm = b.calibreAt(0);
          return { name: b.plan.name, atMm, calibreMm, fromMm: atMm - reach, toMm: atMm + reach };
        });
      const lastMm = vessel.axis.lengthMm + (beyondMm.get(name) ?? 0);
      const common = {
        along: nearestOn(vessel.axis, lastMm),
        calibreAt: vessel.calibreAt,
        branches,
      };
      if (vessel.plan.role === 'branch')
        return [name, { ...common, joinsAtMm: joinsAt(vessel, vessels.get(vessel.plan.of!)!) }];
      return [name, { ...common, neck: neckOf(field, vessel, beyondMm.get(name)!, branches) }];
    }),
  );
}

/** Where a branch's axis comes within its parent's radius, tested every 0.1 mm. */
function joinsAt({ axis }: Vessel, parent: Vessel): number {
  const along = nearestOn(parent.axis, parent.axis.lengthMm);
  for (let s = 0; s < axis.lengthMm; s += 0.1) {
    const p = axis.pointAt(s);
    const at = along(p);
    if (distance(parent.axis.pointAt(at), p) < parent.calibreAt(at) / 2) return s;
  }
  return axis.lengthMm;
}

/** The nearest position on an axis, by trying one every 0.05 mm; the program's own search is not used. */
function nearestOn(axis: Vessel['axis'], lastMm: number): (p: Vec3) => number {
  const stepMm = 0.05;
  const points = Array.from({ length: Math.floor(lastMm / stepMm) + 1 }, (_, i) => axis.pointAt(i * stepMm));
  return ([x, y, z]) => {
    let [best, at] = [Number.POSITIVE_INFINITY, 0];
    for (let i = 0; i < points.length; i++) {
      const q = points[i];
      const d = (q[0] - x) ** 2 + (q[1] - y) ** 2 + (q[2] - z) ** 2;
      if (d < best) [best, at] = [d, i];
    }
    return at * stepMm;
  };
}

/** The neck by its definition, each section near the sac filled by rays from the axis. */
function neckOf(
  field: (p: Vec3) => number,
  { axis, calibreAt }: Vessel,
  beyondMm: number,
  branches: VesselTruth['branches'],
): VesselTruth['neck'] {
  const lastMm = axis.lengthMm + beyondMm;
  const stepMm = 0.25;
  const calibres: number[] = [];
  for (let s = 0; s < lastMm; s += stepMm) {
    const bare = calibreAt(Math.min(s, axis.lengthMm));
    const isFree = s < axis.lengthMm - 14 || branches.some((b) => s > b.fromMm && s < b.toMm);
    calibres.push(isFree ? bare : sectionCalibre(field, axis.pointAt(s), axis.tangentAt(s)));
  }
  const sorted: number[] = [];
  let neck = calibres.length;
  for (let i = 0; i < calibres.length; i++) {
    sorted.splice(sorted.filter((x) => x < calibres[i]).length, 0, calibres[i]);
    const limit = 1.25 * sorted[sorted.length >> 1];
    if (!calibres.slice(i + 1).every((c) => c > limit) || i + 1 === calibres.length) continue;
    neck = i;
    break;
  }
  // over the millimetre around it
  const [before, after] = [Math.max(0, neck - 2), Math.min(calibres.length - 1, neck + 2)];
  const riseAtNeck = (calibres[after] - calibres[before]) / Math.max(stepMm, (after - before) * stepMm);
  return { atMm: Math.min(lastMm, neck * stepMm), riseAtNeck };
}

/** 2 sqrt(area / pi) of the section of a field around a point inside, star-shaped from there, by 32 rays. */
function sectionCalibre(field: (p: Vec3) => number, point: Vec3, normal: Vec3): number {
  const u = perpendicular(normal);
  const v = cross(normal, u);
  let squares = 0;
  for (let k = 0; k < 32; k++) {
    const a = (2 * Math.PI * k) / 32;
    const ray = add(scale(u, Math.cos(a)), scale(v, Math.sin(a)));
    let [low, high] = [0, 0.5];
    while (high < 40 && field(add(point, scale(ray, high))) < 0) [low, high] = [high, high + 0.5];
    for (let i = 0; i < 8; i++) {
      const middle = (low + high) / 2;
      if (field(add(point, scale(ray, middle))) < 0) low = middle;
      else high = middle;
    }
    squares += low * low;
  }
  return 2 * Math.sqrt(squares / 32);
}

const NO_SAMPLES: Samples = { asked: 0, inside: 0, cutOff: [], known: 0, held: 0 };

/** The label map's surface; with noise, voxels at the wall fall on either side by chance. */
function surfaceOf(plan: LesionPlan, voxelMm: number, defect: Defect, next: () => number): TriangleMesh {
  const { field } = fuseLesion(plan);
  const noiseMm = defect === 'plain' ? 0 : 0.15 * voxelMm;
  const phase = [next(), next(), next()].map((x) => 100 * x);
  // smooth in space, uncorrelated from one voxel to the next
  const noise = (x: number, y: number, z: number): number =>
    Math.sin((5.1 * x) / voxelMm + phase[0]) *
    Math.sin((4.3 * y) / voxelMm + phase[1]) *
    Math.sin((5.7 * z) / voxelMm + phase[2]);
  const body = (x: number, y: number, z: number): number => {
    const d = field([x, y, z]);
    // a voxel is inside where its centre is: no partial volume
    const isInside = (noiseMm === 0 || Math.abs(d) > 2 * voxelMm ? d : d + 2 * noiseMm * noise(x, y, z)) < 0;
    return isInside ? -10 : 10;
  };
  const origin: Vec3 = [next() * voxelMm, next() * voxelMm, next() * voxelMm];
  const grid = { inPlaneMm: voxelMm, sliceMm: voxelMm, originMm: origin };
  return resurfaced(body, plan.sac.centreMm, grid, 'label', 0.5);
}

function spoiled(mesh: TriangleMesh, plan: LesionPlan, defect: Defect, next: () => number): TriangleMesh {
  const corner = (t: number, k: number): Vec3 => {
    const v = 3 * mesh.triangles[3 * t + k];
    return [mesh.positions[v], mesh.positions[v + 1], mesh.positions[v + 2]];
  };
  const kept = (keep: (t: number) => boolean): TriangleMesh => {
    const triangles: number[] = [];
    for (let t = 0; 3 * t < mesh.triangles.length; t++)
      if (keep(t)) triangles.push(...mesh.triangles.subarray(3 * t, 3 * t + 3));
    return { positions: mesh.positions, triangles: Uint32Array.from(triangles) };
  };
  if (defect === 'hole') {
    const t0 = Math.floor((next() * mesh.triangles.length) / 3);
    return kept((t) => t !== t0);
  }
  if (defect === 'missing cap') {
    const axis = vesselsOf(plan).get('A1')!.axis;
    const [origin, along] = [axis.pointAt(1), axis.tangentAt(1)];
    const reach = 2 * vesselsOf(plan).get('A1')!.calibreAt(0);
    return kept((t) =>
      [0, 1, 2].some((k) => {
        const d = subtract(corner(t, k), origin);
        const far = d[0] * along[0] + d[1] * along[1] + d[2] * along[2];
        return far > 0 || Math.hypot(...d) > reach;
      }),
    );
  }
  if (defect !== 'islands') return mesh;
  const positions = [...mesh.positions];
  const triangles = [...mesh.triangles];
  for (let i = 0; i < 12; i++) {
    const c = [0, 1, 2].map(() => 60 + 20 * next());
    const first = positions.length / 3;
    for (let k = 0; k < 3; k++)
      for (const s of [-1, 1]) positions.push(...c.map((x, j) => x + (j === k ? s : 0)));
    for (const [a, b, d] of OCTAHEDRON) triangles.push(first + a, first + b, first + d);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

/** Corners -x +x -y +y -z +z; outward. */
const OCTAHEDRON = [
  [1, 3, 5],
  [3, 0, 5],
  [0, 2, 5],
  [2, 1, 5],
  [3, 1, 4],
  [0, 3, 4],
  [2, 0, 4],
  [1, 2, 4],
] as const;

/** Which values of a measured vessel miss their limits; at most 60 samples are cut and tested. */
function judge(
  vessel: VesselMeasure,
  truth: VesselTruth,
  mesh: TriangleMesh,
  defect: Defect,
  voxelMm: number,
  /** What a caution says about a neck without a sharp position. */
  soft: string | undefined,
): Pick<Outcome, 'samples' | 'neckOffMm' | 'lengthOffMm'> & { wrong: { what: string; text: string }[] } {
  const wrong: { what: string; text: string }[] = [];
  const misses = (what: string, text: string): void => {
    wrong.push({ what, text });
  };
  const line = vessel.centrelineMm;
  const endMm = truth.along(line[line.length - 1]);
  // a branch widens into its parent before its end
  const neckMm = truth.neck?.atMm ?? truth.joinsAtMm! - truth.calibreAt(0);
  const slackMm = Math.max(1.5, 1.5 * voxelMm);
  let neckOffMm: number | undefined;
  if (truth.neck && vessel.neck) {
    const off = endMm - neckMm;
    const isSharp = truth.neck.riseAtNeck >= DEFINITIONS.neckSoftSlope;
    if (isSharp) neckOffMm = off;
    // where the calibre rises slowly the neck has no position, only the range stated in the caution
    const range = (soft?.match(/it lies (?:between|from) ([\d.]+)(?: and ([\d.]+))? mm/) ?? []).slice(1);
    const [low, high] = [range[0], range[1] ?? Number.POSITIVE_INFINITY].map(Number);
    const own = neckMm - endMm + vessel.neck.atMm;
    const isInRange = range.length > 0 && own > low - slackMm && own < high + slackMm;
    if (Math.abs(off) > slackMm && !isInRange)
      misses(
        'neck',
        `neck ${endMm.toFixed(1)} for ${neckMm.toFixed(1)} (rise ${truth.neck.riseAtNeck.toFixed(2)})`,
      );
  }
  const joinOff = truth.joinsAtMm === undefined ? 0 : endMm - truth.joinsAtMm;
  if (Math.abs(joinOff) > slackMm)
    misses('join', `ends ${endMm.toFixed(1)} for ${truth.joinsAtMm!.toFixed(1)} at its parent`);
  // a missing cap takes its vessel's first millimetre with it, and the voxels the tip of one hardly wider than they are
  const isTipLost = defect === 'missing cap' || truth.calibreAt(0) < 3 * voxelMm;
  const startMm = isTipLost ? truth.along(line[0]) : 0;
  const beyond = add(line[0], scale(normalize(subtract(line[0], line[1])), voxelMm));
  if (Math.abs(solidAngleWinding(mesh, beyond)) > 0.5)
    misses('length', 'begins more than a voxel inside its end');
  const lengthOffMm = vessel.lengthMm - (endMm - startMm);
  if (Math.abs(lengthOffMm) > Math.max(0.02 * (endMm - startMm), voxelMm))
    misses('length', `length ${vessel.lengthMm.toFixed(1)} for ${(endMm - startMm).toFixed(1)}`);
  const at = [0];
  for (let i = 1; i < line.length; i++) at.push(at[i - 1] + Math.hypot(...subtract(line[i], line[i - 1])));
  const placeAt = (s: number): Vec3 => {
    const found = at.findIndex((x) => x >= s);
    // past the end by rounding: the last piece
    const i = found < 0 ? line.length - 1 : Math.max(1, found);
    const f = (s - at[i - 1]) / (at[i] - at[i - 1] || 1);
    return [0, 1, 2].map((k) => line[i - 1][k] + f * (line[i][k] - line[i - 1][k])) as Vec3;
  };
  const samples = { ...NO_SAMPLES, cutOff: [] as number[] };
  for (const { name, atMm } of vessel.branches) {
    const exact = truth.branches.find((b) => b.name === name);
    if (!exact) continue;
    const found = truth.along(placeAt(atMm));
    // within its opening
    if (Math.abs(found - exact.atMm) > Math.max(slackMm, exact.calibreMm / 2))
      misses('place', `${name} opens at ${found.toFixed(1)} for ${exact.atMm.toFixed(1)}`);
  }
  const every = Math.max(1, Math.ceil(vessel.profile.length / 30));
  const off: number[] = [];
  let [firstMm, lastMm] = [Number.POSITIVE_INFINITY, 0];
  let unlike = 0;
  for (let i = 0; i < vessel.profile.length; i += every) {
    const s = vessel.profile[i];
    const point = placeAt(s.atMm);
    samples.asked++;
    if (Math.abs(solidAngleWinding(mesh, point)) > 0.5) samples.inside++;
    if (s.atOpening || s.atMm < 1 || s.atMm > vessel.lengthMm - 1) continue;
    const cut = planeCut(mesh, point, normalize(subtract(placeAt(s.atMm + 0.5), placeAt(s.atMm - 0.5))));
    samples.cutOff.push(cut ? s.equivalentMm / cut.equivalentMm - 1 : 1);
    if (!cut || Math.abs(s.equivalentMm - cut.equivalentMm) > Math.max(0.02 * cut.equivalentMm, 0.1))
      unlike++;
    const own = truth.along(point);
    if (!isBare(own, truth, neckMm)) continue;
    const exact = truth.calibreAt(own);
    if (exact >= 3 * voxelMm) {
      samples.known++;
      if (Math.abs(s.equivalentMm - exact) <= 1.96 * vessel.calibreSigmaMm) samples.held++;
    }
    if (exact < 5 * voxelMm) continue;
    off.push(Math.abs(s.equivalentMm - exact) / Math.max(0.02 * exact, 0.2));
    [firstMm, lastMm] = [Math.min(firstMm, s.atMm), s.atMm];
  }
  if (samples.inside < samples.asked) misses('inside', `${samples.asked - samples.inside} samples outside`);
  if (unlike > Math.max(1, 0.05 * samples.cutOff.length))
    misses('cut', `${unlike} of ${samples.cutOff.length} unlike the cut`);
  off.sort((x, y) => x - y);
  // over a shorter stretch the staircase of the voxels is always the same
  if (lastMm - firstMm > 2 * vessel.calibreMm.mean && off[off.length >> 1] > 1)
    misses('calibre', `calibre ${off[off.length >> 1].toFixed(1)} times its limit`);
  return { wrong, samples, lengthOffMm, ...(neckOffMm !== undefined && { neckOffMm }) };
}

/** Whether the section at a position is that of the bare tube: away from branches, the flare and the cap. */
const isBare = (s: number, { branches }: VesselTruth, neckMm: number): boolean =>
  s >= 2 && s <= neckMm - 2 && !branches.some((o) => s > o.fromMm && s < o.toMm);
