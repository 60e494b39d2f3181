import { InputFailure } from '../foundation/failure.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { voxelMm } from '../volume/ct/grey-volume.js';
import { assumedBlur, FWHM_PER_SIGMA, fittedBlur, meanFwhmMm, type ScanBlur } from '../witness/blur.js';
import { LUNG_HU } from '../witness/opacified.js';
import type { ScanToRead } from '../witness/wall.js';
import { coursesTo } from './courses.js';
import { crossings } from './crossings.js';
import { contactsOf, opacifiedBeside, type Touching, type UnsureStretch, unsureStretches } from './doubts.js';
import { type CutTube, joined } from './joined.js';
import { refinedTube } from './refined-tube.js';
import {
  darkWays,
  hiddenWalls,
  huText,
  refuse,
  sharedWays,
  throughContacts,
  tooThin,
  withoutWalls,
} from './refusals.js';
import { endBranches, roughVessel } from './rough-vessels.js';
import { isInSac, opacifiedCells, type RoughSac, roughSac, roughSacMesh } from './sac.js';
import { refinedSac } from './sac-wall.js';
import { type Scene, type Seeds, sceneAbout, settledEnds } from './scene.js';
import { type Thrombus, thrombusOf } from './thrombus.js';
import {
  calibreAt,
  calibresOf,
  DIRECTIONS,
  levelAt,
  lineOf,
  nearestStation,
  straightOn,
  wallPointsOf,
} from './tube.js';
import type { Vessel } from './vessel.js';

export interface ProposalInput extends Seeds {
  /** Called with the completed share, 0 to 1, and the next step. */
  onProgress?: (share: number, what: string) => void;
}

/** A surface of the whole lesion from the scan; only a proposal until a reader has confirmed it. */
export interface Proposal {
  /** Closed, welded, outward, mm LPS; a flat cap across each vessel, at its point or up to 8 mm beyond. */
  mesh: TriangleMesh;
  /** The far ends: a place on the axis inside the cap, calibre and grey values there. */
  endsMm: { name: string; at: Vec3; calibreMm: number; lumenHu: number; levelHu: number }[];
  /** The structure of each voxel: 0 nothing, 1 sac, 2 and up the vessels in the order of the ends; x fastest. */
  labels: {
    size: [number, number, number];
    originMm: Vec3;
    /** Steps along the three axes, mm. */
    directions: [Vec3, Vec3, Vec3];
    values: Uint8Array;
  };
  unsure: UnsureStretch[];
  /** Share of the surface's area that is unsure, 0 to 1. */
  unsureShare: number;
  /** Vessels that touch the lesion and were separated from it. */
  touching: Touching[];
  /** The part of the sac without contrast agent, given separately. */
  thrombus?: Thrombus;
  /** The steps taken, with their numbers. */
  report: { stage: string; text: string }[];
}

/** Margin of the scan around the points, mm; more if the sac reaches its rim. */
const MARGINS_MM = [12, 30, 60] as const;
/** Distance beyond its point at which each vessel is cut across, mm. */
const CUT_MM = 1.5;

/**
 * Makes one surface of the lesion from a scan, from a point in the far end of each vessel and one in the sac.
 * Throws InputFailure (2) that names each point that is not in an opacified vessel, or does not lead to the sac, with the grey value
 * found.
 */
export function proposeSurface({ volume, ends, sac, onProgress }: ProposalInput, rules: Rules): Proposal {
  const report: Proposal['report'] = [];
  let told = 0;
  const tell = (share: number, what: string): void => {
    // the scan may be read again with a larger margin
    told = Math.max(told, share);
    onProgress?.(told, what);
  };
  tell(0, 'reading the scan about the points');
  for (const marginMm of MARGINS_MM) {
    const isLast = marginMm === MARGINS_MM[MARGINS_MM.length - 1];
    const scene = sceneAbout({ volume, ends, sac }, marginMm, rules);
    const settled = settledEnds(scene, ends, rules);
    tell(0.15, 'following the vessels to the sac');
    const courses = coursesTo(
      scene.region,
      sac,
      settled.map(({ at }) => at),
      scene.lumenHu,
      (scene.lumenHu + LUNG_HU) / 2,
    );
    refuse(
      courses.flatMap((course, e) =>
        course
          ? []
          : [
              `${ends[e].name}: nothing opacified leads from its point, where ${huText(volume, ends[e].at)}, to the sac: the point is in another vessel, or the vessel is too thin to be followed.`,
            ],
      ),
    );
    const vessels = courses.map((course, e) => roughVessel(scene, ends[e], settled[e].at, course!));
    refuse(withoutWalls(volume, vessels, rules));
    refuse(darkWays(volume, vessels, rules));
    refuse(throughContacts(volume, vessels, rules));
    refuse(sharedWays(volume, vessels, rules));
    endBranches(vessels);
    const tubes = vessels
      .filter(({ end }) => end.role !== 'branch')
      .map(({ tube, neck }) => ({ tube, neck }));
    tell(0.35, 'growing the sac');
    const opacified = opacifiedCells(scene.region, scene.opacifiedHu, scene.boneHu);
    const grown = roughSac(opacified, sac, tubes);
    if (!grown)
      throw new InputFailure(2, `sac: its point is not in an opacified lumen: ${huText(volume, sac)}.`);
    if (grown.deepestMm > numberOf(rules, 'proposal-wider') * grown.depthMm)
      throw new InputFailure(
        2,
        `sac: what is opacified about its point, ${fixed(2 * grown.depthMm, 1)} mm wide, where ${huText(volume, sac)}, continues through an opening of more than half its width into a body of ${fixed(2 * grown.deepestMm, 1)} mm at ${pointText(grown.deepestAt)}: the two cannot be separated. Move the point into the widest part of the sac, or draw the surface by hand.`,
      );
    if (grown.isAtRim && !isLast) continue;
    refuse(crossings(scene, vessels, (p) => isInSac(opacified, grown, p), rules));
    report.push({
      stage: 'lumen',
      text: `${fixed(scene.lumenHu, 0)} HU in the sac, noise ${fixed(scene.noiseHu, 0)} HU; opacified from ${fixed(scene.opacifiedHu, 0)} HU on, bone above ${fixed(scene.boneHu, 0)} HU`,
    });
    return finish(scene, vessels, grown, opacified, rules, report, tell);
  }
  throw new RangeError('unreachable');
}

function finish(
  scene: Scene,
  vessels: Vessel[],
  grown: RoughSac,
  opacified: ReturnType<typeof opacifiedCells>,
  rules: Rules,
  report: Proposal['report'],
  tell: (share: number, what: string) => void,
): Proposal {
  const { volume, region, lumenHu } = scene;
  const rough = refinedSac(roughSacMesh(region, opacified, grown, scene.opacifiedHu), scene);
  tell(0.5, 'fitting the blur of the scan');
  const fitted = fittedBlur(edgePoints(vessels, rough), volume);
  const blur = fitted ?? assumedBlur(volume, lumenHu, rules);
  const scan: ScanToRead = { volume, blur, toScan: (p) => p };
  report.push({
    stage: 'blur',
    text: `${fitted ? `fitted to ${fitted.edges} edges` : 'assumed'}: ${fixed(FWHM_PER_SIGMA * blur.planeMm, 2)} mm in the plane of the slices, ${fixed(FWHM_PER_SIGMA * blur.normalMm, 2)} mm along their normal`,
  });
  report.push({
    stage: 'sac',
    text: `${fixed(2 * grown.depthMm, 1)} mm wide at its deepest place ${pointText(grown.middle)}; grown from there through what is at least half as deep and up to ${fixed(grown.reachMm, 1)} mm on to its wall${grown.parted.length > 0 ? `; ${grown.parted.length} narrower passages separated` : ''}`,
  });
  tell(0.6, 'placing the walls');
  const body = refinedSac(rough.mesh, scene, scan);
  const refined = vessels.map((vessel) => ({
    ...vessel,
    tube: refinedTube(vessel.tube, 0, vessel.last, scan, blur.lumenHu),
  }));
  refuse(tooThin(refined, voxelMm(volume), rules));
  const touching = [
    ...grown.parted.map((parted) => ({ ...parted, of: 'sac' })),
    ...contactsAmong(refined, scene, blur, rules),
  ];
  const cut = refined.map((vessel) => cutTube(vessel, refined));
  tell(0.8, 'joining vessels and sac');
  const thinnest = Math.min(
    ...cut.map(({ tube }, t) => Math.min(...calibresOf(tube).slice(vessels[t].start, vessels[t].last + 1))),
  );
  const stepMm = Math.max(0.35, Math.min(0.6, thinnest / 4.5, grown.depthMm / 8));
  const { mesh, grid, owner } = joined(body, cut, stepMm);
  const thrombus = thrombusOf(region, opacified, grown, {
    levelHu: scene.opacifiedHu,
    lumenHu,
    blurMm: meanFwhmMm(blur),
    leastMl: numberOf(rules, 'uncontrasted-least'),
  });
  report.push(...refined.map(wallReport));
  report.push({
    stage: 'surface',
    text: `joined on a grid of ${fixed(grid.stepMm, 2)} mm, ${mesh.triangles.length / 3} triangles; each vessel cut flat ${fixed(CUT_MM, 1)} mm beyond its point`,
  });
  const { unsure, share } = unsureStretches(refined, body, mesh, rules);
  tell(1, 'done');
  return {
    mesh,
    endsMm: cut.map(({ tube }, t) => ({
      name: vessels[t].end.name,
      at: tube.centres[vessels[t].start],
      calibreMm: calibreAt(tube, vessels[t].start),
      lumenHu: tube.lumenHu[vessels[t].start],
      levelHu: levelAt(tube, vessels[t].start),
    })),
    labels: labelsOf(grid, owner),
    unsure,
    unsureShare: share,
    touching,
    ...(thrombus && { thrombus }),
    report,
  };
}

/** Places on the walls of the vessels and of the sac (at most about 800), for fitting the blur. */
function edgePoints(
  vessels: readonly Vessel[],
  sac: ReturnType<typeof refinedSac>,
): ReturnType<typeof wallPointsOf> {
  const points = vessels.flatMap(({ tube, start, last }) => wallPointsOf(tube, start, last));
  const corners = sac.mesh.positions.length / 3;
  const stride = Math.max(1, Math.floor(corners / 800));
  for (let v = 0; v < corners; v += stride)
    if (sac.isOwn[v])
      points.push({
        at: [...sac.mesh.positions.subarray(3 * v, 3 * v + 3)] as Vec3,
        outward: [...sac.normals.subarray(3 * v, 3 * v + 3)] as Vec3,
      });
  return points;
}

/** Where vessels touch something; rejected if too much of a wall is hidden by it. */
function contactsAmong(
  vessels: readonly Vessel[],
  scene: Scene,
  blur: ScanBlur,
  rules: Rules,
): Proposal['touching'] {
  const besideOf = new Map(
    vessels.map((vessel) => [vessel.end.name, contactsBeside(vessel, vessels, scene, blur)]),
  );
  const beside = ({ end }: Vessel, station: number) => besideOf.get(end.name)![station];
  refuse(hiddenWalls(vessels, (vessel, station) => beside(vessel, station).length / DIRECTIONS, rules));
  return vessels.flatMap((vessel) => contactsOf(vessel, (station) => beside(vessel, station)));
}

function labelsOf(
  { size, originMm, stepMm: h }: ReturnType<typeof joined>['grid'],
  owner: ReturnType<typeof joined>['owner'],
): Proposal['labels'] {
  return {
    size: [...size],
    originMm: [...originMm],
    directions: [
      [h, 0, 0],
      [0, h, 0],
      [0, 0, h],
    ],
    values: xFastest(owner, size),
  };
}

function wallReport({ end, tube, start, neck, last }: Vessel): { stage: string; text: string } {
  const line = lineOf(tube);
  const stations = tube.centres.map((_, i) => i).slice(start, last + 1);
  const own = 100 * (1 - stations.reduce((sum, i) => sum + tube.hidden[i], 0) / stations.length);
  const levels = stations.map((i) => levelAt(tube, i));
  const calibres = stations.map((i) => calibreAt(tube, i));
  return {
    stage: 'walls',
    text: `${end.name}: ${fixed(line.at[neck] - line.at[start], 1)} mm from its point to where it opens, ${fixed(median(calibres), 1)} mm wide in the middle (${fixed(Math.min(...calibres), 1)} to ${fixed(Math.max(...calibres), 1)} mm), level ${fixed(Math.min(...levels), 0)} to ${fixed(Math.max(...levels), 0)} HU, a wall of its own in ${fixed(own, 0)} % of the directions`,
  };
}

/** Distance past the wall, in widths of the blur at half maximum, at which nothing of the vessel remains. */
const PAST_BLURS = 1;

/** For each section the directions in which something opacified and unnamed is just past the wall. */
function contactsBeside(
  vessel: Vessel,
  vessels: readonly Vessel[],
  { volume, boneHu, opacifiedHu: levelHu }: Scene,
  blur: ScanBlur,
): number[][] {
  const limits = {
    levelHu,
    mostHu: boneHu,
    pastMm: PAST_BLURS * meanFwhmMm(blur),
  };
  return vessel.tube.centres.map((_, i) =>
    i < vessel.start || i > vessel.last ? [] : opacifiedBeside(vessel, i, vessels, volume, limits),
  );
}

/** A refined vessel, extended straight into the structure that it opens into and cut across beyond its point. */
function cutTube({ end, tube, start, neck, last }: Vessel, vessels: readonly Vessel[]): CutTube {
  const line = lineOf(tube);
  const calibre = calibreAt(tube, last);
  const parent = vessels.find((other) => end.role === 'branch' && other.end.name === end.of);
  const into = parent
    ? 0.35 * calibreAt(parent.tube, nearestStation(parent.tube, tube.centres[neck]).station)
    : 0.6 * calibre + 1;
  const at = line.at[start] - CUT_MM;
  const station = Math.max(
    0,
    line.at.findIndex((s) => s >= at),
  );
  return {
    tube: straightOn(tube, last, line.at[neck] - line.at[last] + into, 2),
    cut: { at: tube.centres[station], inwards: tube.along[station] },
    neck,
  };
}

function xFastest(values: Uint8Array, [nx, ny, nz]: readonly number[]): Uint8Array {
  const out = new Uint8Array(values.length);
  for (let x = 0, n = 0; x < nx; x++)
    for (let y = 0; y < ny; y++) for (let z = 0; z < nz; z++, n++) out[(z * ny + y) * nx + x] = values[n];
  return out;
}
