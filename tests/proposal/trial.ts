import type { Finding } from '../../src/foundation/finding.js';
import { add, cross, normalize, scale, type Vec3 } from '../../src/foundation/vector.js';
import type { ScanFrame } from '../../src/geometry/describe-vessel.js';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import { mean } from '../../src/geometry/statistics.js';
import { sacBody, tubeBody } from '../../src/phantoms/field.js';
import { type LesionPlan, vesselsOf } from '../../src/phantoms/lesion.js';
import { randomStream } from '../../src/phantoms/random.js';
import { truthOfWhole } from '../../src/phantoms/truth.js';
import { type Proposal, proposeSurface } from '../../src/proposal/proposal.js';
import type { SeedEnd } from '../../src/proposal/vessel.js';
import { loadRules } from '../../src/rules/load-rules.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { DEFINITIONS } from '../geometry/make.js';

const rules = loadRules();

/** Points as a reader would place them: in the far end of each vessel, or this far along it, up to `asideMm` off its axis. */
export function pointsOf(
  plan: LesionPlan,
  seed: number,
  asideMm: number,
  startsMm: ReadonlyMap<string, number> = new Map(),
): SeedEnd[] {
  const random = randomStream(seed);
  return [...vesselsOf(plan)].map(([name, { axis, calibreAt, plan: vessel }]) => {
    const s = startsMm.get(name) ?? 3;
    const along = axis.tangentAt(s);
    const side = normalize(cross(along, Math.abs(along[2]) < 0.8 ? [0, 0, 1] : [1, 0, 0]));
    const turn = random.between(0, 2 * Math.PI);
    const aside = add(scale(side, Math.cos(turn)), scale(cross(along, side), Math.sin(turn)));
    const by = Math.min(asideMm, 0.4 * calibreAt(s));
    const role = vessel.role as SeedEnd['role'];
    const at: Vec3 = add(axis.pointAt(s), scale(aside, by));
    return vessel.of === undefined ? { name, role, at } : { name, role, at, of: vessel.of };
  });
}

export interface Trial {
  proposal: Proposal;
  lesion: LesionMeasure;
  findings: Finding[];
  /** Landing calibre of each feeder against the truth of the same stretch, neck along the axis, mm. */
  calibre: { name: string; mm: number; trueMm: number; error: number }[];
  neck: { name: string; error: number }[];
  sac: { ml: number; trueMl: number };
  farthestMm: number;
  missing: string[];
}

/** A proposal from a scan of a lesion, measured as by a plan and compared with the truth. */
export function trial(
  plan: LesionPlan,
  volume: GreyVolume,
  seed: number,
  {
    asideMm = 1,
    scan = {},
    startsMm,
  }: { asideMm?: number; scan?: ScanFrame['scan']; startsMm?: ReadonlyMap<string, number> } = {},
): Trial {
  const ends = pointsOf(plan, seed, asideMm, startsMm);
  const proposal = proposeSurface({ volume, ends, sac: plan.sac.centreMm }, rules);
  const { lesion, findings } = measureWhole(
    {
      mesh: proposal.mesh,
      capTriangles: [],
      ends: ends.map(({ at, ...end }, e) => ({ ...end, point: proposal.endsMm[e].at, where: end.name })),
      sac: { point: plan.sac.centreMm, where: 'sac' },
      offeredEnds: [],
    },
    DEFINITIONS,
    { scan, hasAxes: true },
  );
  const truth = truthOfWhole(plan, 64);
  const vessels = vesselsOf(plan);
  const calibre: Trial['calibre'] = [];
  const neck: Trial['neck'] = [];
  for (const found of lesion.vessels) {
    const exact = truth.vessels[found.name];
    const { axis } = vessels.get(found.name)!;
    if (found.neck && exact.neckPointMm) {
      const direction = axis.tangentAt(exact.neckAtMm!);
      const off = found.neck.pointMm.map((x, d) => x - exact.neckPointMm![d]);
      neck.push({ name: found.name, error: off.reduce((sum, x, d) => sum + x * direction[d], 0) });
      if (found.landing) {
        const shift = exact.neckAtMm! - found.neck.atMm;
        const inner = found.profile.filter(
          (s) => s.atMm >= found.landing!.fromMm + 0.3 && s.atMm <= found.landing!.toMm - 0.3,
        );
        const trueMm = mean(inner.map((s) => exact.calibreAt(s.atMm + shift)));
        const mm = mean(inner.map((s) => s.equivalentMm));
        calibre.push({ name: found.name, mm, trueMm, error: mm - trueMm });
      }
    }
  }
  return {
    proposal,
    lesion,
    findings,
    calibre,
    neck,
    sac: { ml: lesion.sac?.volumeMl ?? Number.NaN, trueMl: truth.sacVolumeMl },
    farthestMm: farthest(plan, proposal),
    missing: plan.vessels.flatMap(({ name }) => (lesion.vessels.some((v) => v.name === name) ? [] : [name])),
  };
}

/** Farthest corner of the surface from the true one, mm. */
function farthest(plan: LesionPlan, { mesh }: Proposal): number {
  const bodies = [
    sacBody(plan.sac),
    ...[...vesselsOf(plan).values()].map(({ axis, calibreAt }) =>
      tubeBody(axis, calibreAt, 0).past(calibreAt(0) + 1),
    ),
  ];
  let most = 0;
  for (let v = 0; v < mesh.positions.length; v += 3 * 7) {
    const p: Vec3 = [mesh.positions[v], mesh.positions[v + 1], mesh.positions[v + 2]];
    // the caps lie inside
    most = Math.max(most, Math.min(...bodies.map((body) => body.value(p))));
  }
  return most;
}
