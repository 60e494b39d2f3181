import { add, distance, dot, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { layNormal } from '../mesh/triangle-normal.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import type { RefinedSac } from './sac-wall.js';
import { calibreAt, DIRECTIONS, directionOf, lineOf, nearestStation, runsOf, type Tube } from './tube.js';
import type { Vessel } from './vessel.js';

/** Why a stretch of the surface is unsure. */
export type UnsureKind = 'directions-disagree' | 'low-contrast' | 'neighbour' | 'sharp-turn';

export interface UnsureStretch {
  kind: UnsureKind;
  /** The vessel's name, or `sac`. */
  near: string;
  atMm: Vec3;
  lengthMm: number;
  /** Share of the area of the whole surface, 0 to 1. */
  share: number;
}

/** An unsure stretch with its area. */
interface Stretch extends Omit<UnsureStretch, 'share'> {
  areaMm2: number;
}

/** Limits for unsure stretches, from the rules. */
interface Limits {
  hidden: number;
  apart: number;
  contrastHu: number;
  leastMm: number;
  turnDeg: number;
}

const limitsOf = (rules: Rules): Limits => ({
  hidden: numberOf(rules, 'proposal-hidden'),
  apart: numberOf(rules, 'proposal-apart'),
  contrastHu: numberOf(rules, 'proposal-low-contrast'),
  leastMm: numberOf(rules, 'proposal-unsure-length'),
  turnDeg: numberOf(rules, 'proposal-turn'),
});

/** All stretches where the wall is unsure, with their share of the surface. */
export function unsureStretches(
  vessels: readonly Vessel[],
  sac: RefinedSac,
  mesh: TriangleMesh,
  rules: Rules,
): { unsure: UnsureStretch[]; share: number } {
  const limits = limitsOf(rules);
  const stretches = [
    ...vessels.flatMap((vessel) => [...alongVessel(vessel, limits), ...sharpTurns(vessel, limits)]),
    ...onSac(sac, vessels, limits),
  ];
  const total = areaOf(mesh);
  const unsure = stretches.map(({ areaMm2, ...stretch }) => ({
    ...stretch,
    share: Math.min(1, areaMm2 / total),
  }));
  return {
    unsure,
    share: Math.min(
      1,
      unsure.reduce((sum, { share }) => sum + share, 0),
    ),
  };
}

function kindAt(
  { contrastHu, hidden, bright, apart }: Tube,
  i: number,
  limits: Limits,
): UnsureKind | undefined {
  if (contrastHu[i] < limits.contrastHu) return 'low-contrast';
  if (hidden[i] + bright[i] > limits.hidden) return 'neighbour';
  return apart[i] > limits.apart ? 'directions-disagree' : undefined;
}

function alongVessel({ end, tube, start, last }: Vessel, limits: Limits): Stretch[] {
  const line = lineOf(tube);
  return runsOf(start, last, (i) => kindAt(tube, i, limits)).flatMap(({ from, to, key: kind }) => {
    const lengthMm = line.at[to] - line.at[from];
    if (lengthMm < limits.leastMm) return [];
    const middle = Math.floor((from + to) / 2);
    const areaMm2 = Math.PI * calibreAt(tube, middle) * lengthMm;
    return [{ kind, near: end.name, atMm: tube.centres[middle], lengthMm, areaMm2 }];
  });
}

/** Length over which a turn is measured: this multiple of the calibre to either side, and at least this many mm. */
const TURN_CALIBRES = 0.75;
const TURN_MM = 1.5;

/** Places where the vessel turns so sharply that it may be two that cross or touch; the sharpest place of each turn. */
function sharpTurns({ end, tube, start, last }: Vessel, limits: Limits): Stretch[] {
  const line = lineOf(tube);
  const found: Stretch[] = [];
  let best: { deg: number; station: number } | undefined;
  const close = (): void => {
    if (best) {
      const calibreMm = calibreAt(tube, best.station);
      const areaMm2 = Math.PI * calibreMm * calibreMm;
      const atMm = tube.centres[best.station];
      found.push({ kind: 'sharp-turn', near: end.name, atMm, lengthMm: calibreMm, areaMm2 });
    }
    best = undefined;
  };
  for (let i = start; i <= last; i++) {
    const reach = Math.max(TURN_MM, TURN_CALIBRES * calibreAt(tube, i));
    const [before, after] = [line.pointAt(line.at[i] - reach), line.pointAt(line.at[i] + reach)];
    const here = tube.centres[i];
    const cosine = dot(normalize(subtract(here, before)), normalize(subtract(after, here)));
    const deg = (180 / Math.PI) * Math.acos(Math.max(-1, Math.min(1, cosine)));
    if (deg < limits.turnDeg) close();
    else if (!best || deg > best.deg) best = { deg, station: i };
  }
  close();
  return found;
}

/** Patches of the sac without a visible wall, or with little contrast, that are not explained by the mouth of a vessel. */
function onSac(
  { mesh, isOwn, contrastHu }: RefinedSac,
  vessels: readonly Vessel[],
  limits: Limits,
): Stretch[] {
  const { positions, triangles } = mesh;
  const at = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const kinds = Array.from({ length: isOwn.length }, (_, v): UnsureKind | undefined => {
    const p = at(v);
    const isMouth = vessels.some(({ tube, neck }) => {
      const near = nearestStation(tube, p);
      return near.station > neck - 12 && near.mm < 0.75 * calibreAt(tube, neck) + 1;
    });
    if (isMouth) return undefined;
    if (!isOwn[v]) return 'neighbour';
    return contrastHu[v] < limits.contrastHu ? 'low-contrast' : undefined;
  });
  const areas = new Float64Array(isOwn.length);
  const beside: number[][] = kinds.map(() => []);
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const area = layNormal(mesh, t / 3, normal) / 2;
    corners.forEach((v, c) => {
      areas[v] += area / 3;
      if (kinds[v] !== undefined) beside[v].push(corners[(c + 1) % 3], corners[(c + 2) % 3]);
    });
  }
  const isSeen = new Uint8Array(isOwn.length);
  const found: Stretch[] = [];
  kinds.forEach((kind, first) => {
    if (kind === undefined || isSeen[first]) return;
    const patch = [first];
    isSeen[first] = 1;
    for (let i = 0; i < patch.length; i++)
      for (const w of beside[patch[i]])
        if (!isSeen[w] && kinds[w] === kind) {
          isSeen[w] = 1;
          patch.push(w);
        }
    const areaMm2 = patch.reduce((sum, v) => sum + areas[v], 0);
    const lengthMm = 2 * Math.sqrt(areaMm2 / Math.PI);
    if (lengthMm < limits.leastMm) return;
    found.push({ kind, near: 'sac', atMm: at(patch[patch.length >> 1]), lengthMm, areaMm2 });
  });
  return found;
}

const normal = new Float64Array(3);

function areaOf(mesh: TriangleMesh): number {
  let sum = 0;
  for (let t = 0; t < mesh.triangles.length / 3; t++) sum += layNormal(mesh, t, normal) / 2;
  return sum;
}

/** Directions in which something opacified is just past the wall of a section, other than the vessel's parent or branches. */
export function opacifiedBeside(
  vessel: Vessel,
  station: number,
  vessels: readonly Vessel[],
  volume: GreyVolume,
  { levelHu, mostHu, pastMm }: { levelHu: number; mostHu: number; pastMm: number },
): number[] {
  const { tube } = vessel;
  const found: number[] = [];
  for (let k = 0; k < DIRECTIONS; k++) {
    const reach = tube.radii[DIRECTIONS * station + k] + pastMm;
    const p = add(tube.centres[station], scale(directionOf(tube, station, k), reach));
    const value = valueAt(volume, ...p);
    if (!(value >= levelHu && value <= mostHu)) continue;
    const isNamed = vessels.some((other) => {
      if (other === vessel) return false;
      const near = nearestStation(other.tube, p);
      return near.mm < 0.5 * calibreAt(other.tube, near.station) + pastMm;
    });
    if (!isNamed) found.push(k);
  }
  return found;
}

/** A vessel that touches the lesion and was separated from it. */
export interface Touching {
  at: Vec3;
  of: string;
  contactMm: number;
}

/** Contacts of unnamed opacified structures with a vessel: the middle and width of each. */
export function contactsOf(vessel: Vessel, besideAt: (station: number) => readonly number[]): Touching[] {
  const { end, tube, start, last } = vessel;
  const found: Touching[] = [];
  let group: { station: number; directions: readonly number[] }[] = [];
  const close = (): void => {
    const places = group.flatMap(({ station, directions }) =>
      directions.map((k) =>
        add(
          tube.centres[station],
          scale(directionOf(tube, station, k), tube.radii[DIRECTIONS * station + k]),
        ),
      ),
    );
    if (group.length >= 2 && places.length >= 4) {
      const at = scale(
        places.reduce<Vec3>((sum, p) => add(sum, p), [0, 0, 0]),
        1 / places.length,
      );
      const widths = places.map((p) => distance(p, at)).sort((a, b) => a - b);
      found.push({ at, of: end.name, contactMm: 2 * widths[Math.floor(0.9 * (widths.length - 1))] });
    }
    group = [];
  };
  for (let station = start; station <= last; station++) {
    const directions = besideAt(station);
    if (directions.length > 0) group.push({ station, directions });
    else close();
  }
  close();
  return found;
}
