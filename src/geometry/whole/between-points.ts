import { InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { pointText } from '../../foundation/number-text.js';
import { add, distance, scale, type Vec3 } from '../../foundation/vector.js';
import { measure } from '../../mesh/measures.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { Lumen, lumenStepMm } from '../lumen.js';
import type { LeftOutMeasure } from '../measure.js';
import type { Surface } from '../surface.js';
import { sectionAt } from '../section.js';
import { planeAcross, sideOf } from './cross-plane.js';
import { asCut, type MeshCut, MeshParts } from './mesh-parts.js';
import type { LabelledEnd } from './place-ends.js';

/** Numerical settings. No clinical meaning. */
const BOUND = {
  /** A vessel that ends within the larger of these distances beyond its point, mm and calibres, is measured to its end. */
  tipMm: 8,
  tipCalibres: 2,
  /** How far a point on a cut is moved into the kept part, in calibres, and at most mm. */
  inside: 0.25,
  insideMostMm: 1,
  /** If another path leads around a cut, this much of the vessel is removed there: mm, and calibres. */
  gapMm: 1.5,
  gapCalibres: 0.5,
} as const;

/** The parts beyond the points of a tree's vessels; the mesh is closed at the cuts, coordinates of the file, mm. */
export interface LeftOut extends LeftOutMeasure {
  mesh: TriangleMesh;
}

/** The part of a surface between the points of the case. */
export interface BoundedPart {
  /** Coordinates of the file, mm. */
  mesh: TriangleMesh;
  capTriangles: number[];
  /** The points, moved into the part if they are on a cut; coordinates of the file. */
  points: Vec3[];
  leftOut: LeftOut;
}

interface EndCut {
  end: number;
  cut: MeshCut;
  calibreMm: number;
}

/**
 * Cuts a vascular tree across each vessel that continues beyond its point in the case, and keeps the part that contains the sac, or else
 * the part between all points. A vessel that ends just beyond its point is not cut. `points`: those of the ends, inside the lumen, local
 * coordinates; `sac`: a point in the sac. Undefined if nothing has to be cut. Throws InputFailure (2) for a point beyond another, or if the
 * part to keep cannot be determined.
 */
export function partBetweenPoints(
  surface: Surface,
  ends: readonly LabelledEnd[],
  points: readonly Vec3[],
  sac: Vec3 | undefined,
  findings: Finding[],
): BoundedPart | undefined {
  const needed = neededCuts(surface, points);
  if (needed.length === 0) return undefined;

  const { rounds, parts, uncut } = withGaps(surface, needed, (end) => sac ?? points[end === 0 ? 1 : 0]);
  if (uncut !== undefined)
    throw new InputFailure(2, [
      `${ends[uncut].where}: the surface cannot be cut at the point of ${ends[uncut].name}. Move it along the vessel by a few millimetres.`,
    ]);
  const touching = parts.sharing();
  if (touching) {
    const [a, b] = touching.map((i) => ends[endOf(needed, rounds, i)]);
    throw new InputFailure(2, [
      `${b.where}: the points of ${a.name} and ${b.name} lie side by side, so the surface cannot be cut at both. Move one of them.`,
    ]);
  }
  const kept = pieceThatCounts(surface, parts, needed, ends, sac);
  refusePast(endsPast(surface, parts, needed, points, kept), ends);
  const cuts = needed.length + rounds.length;
  const beside = Array.from({ length: cuts }, (_, i) => parts.piecesAt(i));
  const dropped = new Set(beside.flat().filter((piece) => piece !== kept));
  const moved = points.map((p) => surface.toFile(p));
  needed.forEach(({ end, cut, calibreMm }, i) => {
    const sign = beside[i][1] === kept ? 1 : -1;
    const depthMm = Math.min(BOUND.inside * calibreMm, BOUND.insideMostMm);
    moved[end] = surface.toFile(add(cut.section.centre, scale(cut.normal, sign * depthMm)));
    // the part beyond the second cut is kept if it is still connected to the lesion
    const round = rounds.indexOf(i);
    if (round < 0 || !beside[needed.length + round].includes(kept)) return;
    const where = pointText(surface.toFile(cut.section.centre));
    const text = `the surface was cut at its point, ${where} mm, but the part past it also joins the lesion by another path and was not left out: do vessels touch? Separate them in the segmentation, or name a point on that other path.`;
    findings.push(finding('caution', 'left-out-not-parted', ends[end].name, text));
  });
  const part = parts.meshOf((piece) => !dropped.has(piece));
  const rest = parts.meshOf((piece) => dropped.has(piece));
  const volumeMl = measure(rest.mesh).volumeMm3 / 1000;
  const leftOut = {
    mesh: surface.toFileMesh(rest.mesh),
    pieces: dropped.size - rounds.length,
    volumeMl,
    share: (1000 * volumeMl) / measure(surface).volumeMm3,
    past: needed.map(({ end }) => ends[end].name),
  };
  return { mesh: surface.toFileMesh(part.mesh), capTriangles: part.capTriangles, points: moved, leftOut };
}

/** The cuts across the vessels that continue beyond their points. */
function neededCuts(surface: Surface, points: readonly Vec3[]): EndCut[] {
  const tried = points.flatMap((point, end): EndCut[] => {
    const plane = planeAcross(surface, point);
    const cut = plane && asCut(surface, plane);
    return cut ? [{ end, cut, calibreMm: cut.section.equivalentMm }] : [];
  });
  if (tried.length === 0) return [];
  const all = new MeshParts(
    surface,
    tried.map(({ cut }) => cut),
  );
  const reach = reachPast(surface, all, tried);
  const goesOn = (i: number, piece: number): boolean =>
    (reach.get(piece)?.cuts.size ?? 0) > 1 || reach.get(piece)!.farMm[i]! > tipMm(tried[i]);
  return tried.filter((_, i) => all.piecesAt(i).every((piece) => goesOn(i, piece)));
}

/** The points that bound one part around the sac, without those beyond another or next to an earlier one. */
export function boundingPoints(surface: Surface, points: readonly Vec3[], sac: Vec3): number[] {
  let left = [...points.keys()];
  for (;;) {
    const places = left.map((i) => points[i]);
    const needed = neededCuts(surface, places);
    const { rounds, parts, uncut } = withGaps(surface, needed, () => sac);
    const touching = parts.sharing()?.map((cut) => endOf(needed, rounds, cut));
    const past = endsPast(surface, parts, needed, places, pieceAt(surface, parts, sac));
    const away = uncut !== undefined ? [uncut] : touching ? [touching[1]] : past.map(({ end }) => end);
    if (away.length === 0) return left;
    left = left.filter((_, i) => !away.includes(i));
  }
}

/**
 * The pieces of the surface, and the cuts that another path leads around. There a short piece of the vessel is removed by a second cut
 * beyond the first, since two coincident faces would not end the lumen. `towards`: a place on the lesion's side of an end; `uncut`: an end
 * at which that cut cannot be made.
 */
function withGaps(
  surface: Surface,
  needed: readonly EndCut[],
  towards: (end: number) => Vec3,
): { rounds: number[]; parts: MeshParts; uncut?: number } {
  const cuts = needed.map(({ cut }) => cut);
  const parts = new MeshParts(surface, cuts);
  const rounds = [...needed.keys()].filter((i) => {
    const [below, above] = parts.piecesAt(i);
    return below === above;
  });
  if (rounds.length === 0) return { rounds, parts };
  const second: MeshCut[] = [];
  for (const i of rounds) {
    const { end, cut, calibreMm } = needed[i];
    const gapMm = Math.max(BOUND.gapMm, BOUND.gapCalibres * calibreMm);
    const out = -sideOfWay(surface, cut, towards(end));
    const point = add(cut.section.centre, scale(cut.normal, out * gapMm));
    const section = sectionAt(surface, point, cut.normal);
    const made = section && asCut(surface, { point, normal: cut.normal, section });
    if (!made) return { rounds, parts, uncut: end };
    second.push(made);
  }
  return { rounds, parts: new MeshParts(surface, [...cuts, ...second]) };
}

/** The end of a cut; the second cuts of vessels follow the first ones. */
const endOf = (needed: readonly EndCut[], rounds: readonly number[], cut: number): number =>
  (needed[cut] ?? needed[rounds[cut - needed.length]]).end;

const tipMm = ({ calibreMm }: EndCut): number => Math.max(BOUND.tipMm, BOUND.tipCalibres * calibreMm);

/** The cuts touched by each piece, and how far it extends from each of them. */
function reachPast(
  surface: Surface,
  parts: MeshParts,
  cuts: readonly EndCut[],
): Map<number, { cuts: Set<number>; farMm: (number | undefined)[] }> {
  const reach = new Map<number, { cuts: Set<number>; farMm: (number | undefined)[] }>();
  cuts.forEach((_, i) => {
    for (const piece of parts.piecesAt(i)) {
      const known = reach.get(piece) ?? { cuts: new Set<number>(), farMm: [] };
      known.cuts.add(i);
      known.farMm[i] = 0;
      reach.set(piece, known);
    }
  });
  for (let v = 0; v < surface.vertexCount; v++) {
    const known = reach.get(parts.pieceOf(v));
    // the extent matters only for pieces connected by a single cut
    if (known?.cuts.size !== 1) continue;
    const [i] = known.cuts;
    known.farMm[i] = Math.max(known.farMm[i]!, distance(surface.vertex(v), cuts[i].cut.section.centre));
  }
  return reach;
}

/** The piece that contains the sac, or else the one that all cuts touch. */
function pieceThatCounts(
  surface: Surface,
  parts: MeshParts,
  needed: readonly EndCut[],
  ends: readonly LabelledEnd[],
  sac: Vec3 | undefined,
): number {
  if (sac) return pieceAt(surface, parts, sac);
  const touched = new Map<number, number>();
  for (const i of needed.keys())
    for (const piece of new Set(parts.piecesAt(i))) touched.set(piece, (touched.get(piece) ?? 0) + 1);
  const most = Math.max(...touched.values());
  const held = [...touched].filter(([, count]) => count === most).map(([piece]) => piece);
  if (held.length === 1) return held[0];
  const names = needed.map(({ end }) => ends[end].name).join(', ');
  throw new InputFailure(2, [
    `${ends[needed[0].end].where}: the surface continues on both sides of the ${needed.length === 1 ? 'point' : 'points'} of ${names}, so it is unknown which side contains the lesion. Give surfaces.whole.sac, a point inside the sac.`,
  ]);
}

const pieceAt = (surface: Surface, parts: MeshParts, place: Vec3): number =>
  parts.pieceOf(surface.triangles[3 * surface.closest(place)!.triangle]);

/** The ends beyond the point of another, each with that cut. */
function endsPast(
  surface: Surface,
  parts: MeshParts,
  needed: readonly EndCut[],
  points: readonly Vec3[],
  kept: number,
): { end: number; before: EndCut }[] {
  const cutOf = new Map(needed.map(({ end }, i) => [end, i]));
  return points.flatMap((point, end) => {
    const cut = cutOf.get(end);
    const own: number[] = cut === undefined ? [pieceAt(surface, parts, point)] : parts.piecesAt(cut);
    if (own.includes(kept)) return [];
    const before = needed.find((_, k) => {
      const pieces = parts.piecesAt(k);
      return pieces.includes(kept) && pieces.some((piece) => own.includes(piece));
    });
    return before ? [{ end, before }] : [];
  });
}

/** Throws InputFailure (2) for ends beyond the point of another. */
function refusePast(past: readonly { end: number; before: EndCut }[], ends: readonly LabelledEnd[]): void {
  const problems = past.map(({ end, before }) => {
    const [own, other] = [ends[end], ends[before.end]];
    return `${own.where}: the point of ${own.name} is past the point of ${other.name}, where the measured part ends. Move the point of ${other.name} farther from the sac, or leave ${own.name} out.`;
  });
  if (problems.length > 0) throw new InputFailure(2, problems);
}

/** The side of a cut on which the path through the lumen to `to` begins: 1 above its plane, -1 below. */
function sideOfWay(surface: Surface, cut: MeshCut, to: Vec3): number {
  const lumen = new Lumen(surface, lumenStepMm(surface));
  const [from, target] = [lumen.cellNear(cut.section.centre), lumen.cellNear(to)];
  const [way] = from >= 0 && target >= 0 ? lumen.deepWays(target, [from]) : [];
  const ahead = way?.points.find((p) => distance(p, cut.section.centre) > cut.section.equivalentMm);
  return ahead && sideOf(cut, ahead) < 0 ? -1 : 1;
}
