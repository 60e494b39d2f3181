import type { CrossSection, Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { add, scale, type Vec3 } from '../foundation/vector.js';
import { type CutPlane, inPlane, planeAxes } from './cut-plane.js';
import type { PrintJob } from './print-job.js';

/** One peg of a cut model, print coordinates. */
export interface Peg {
  /** Centre of its foot, on the cut. */
  at: Vec3;
  /** The half that carries it; the other has the socket. */
  on: 'A' | 'B';
  diameterMm: number;
  lengthMm: number;
  fitMm: number;
}

/** A place for a peg in the plane of the cut. */
interface Room {
  x: number;
  y: number;
  /** 1: the peg points up into half A; -1: down into half B. */
  into: 1 | -1;
  diameterMm: number;
}

/** Decrement of the peg diameter between tries, mm. */
const STEP_MM = 0.5;
/** Depths of the socket at which the walls around it are checked, as fractions. */
const LEVELS = [0.02, 0.25, 0.5, 0.75, 1];
/** Foot of a peg inside its own half, mm. */
const FOOT_MM = 0.5;
/** Least distance between two pegs in one region, diameters. */
const APART = 3;
/**
 * Distance of a peg's flat side from its axis, as a fraction of its radius. The flat prevents the halves from being joined when turned
 * against each other.
 */
const FLAT = 0.5;
const CORNERS = 48;
/** Sections smaller than this count as touched, not cut, mm². */
export const LEAST_ISLAND_MM2 = 0.5;

/**
 * Adds pegs and sockets to two halves: in each region of the cut one peg, or two if it is long, as thick as the walls around the socket
 * allow. `whole` is the uncut body. A region without room gives a finding.
 */
export function joinHalves(
  job: PrintJob,
  whole: Manifold,
  halves: readonly [Manifold, Manifold],
  plane: CutPlane,
): { halves: [Manifold, Manifold]; pegs: Peg[] } {
  const { workshop, rules } = job;
  const { peg } = rules;
  const flat = inPlane(job, whole, plane);
  const face = inPlane(job, halves[1], plane).slice(-0.02);
  const islands = face.decompose().filter((island) => island.area() >= LEAST_ISLAND_MM2);
  const solids: [Manifold, Manifold] = [...halves];
  const pegs: Peg[] = [];
  let without = 0;
  for (const island of islands) {
    const rooms = roomsOn(job, flat, island);
    if (rooms.length === 0) without++;
    for (const room of rooms) {
      const { on, body, hole, at } = pegAt(job, plane, room);
      const [own, other] = on === 'A' ? [0, 1] : [1, 0];
      solids[own] = workshop.union([solids[own], body]);
      solids[other] = workshop.difference(solids[other], hole);
      pegs.push({
        at,
        on,
        diameterMm: room.diameterMm,
        lengthMm: peg.lengthRatio * room.diameterMm,
        fitMm: peg.fitMm,
      });
    }
  }
  for (const island of islands) island.delete();
  face.delete();
  if (without > 0)
    job.findings.push(
      finding(
        'caution',
        'print-cut-no-peg',
        'print.cut',
        `${without} of ${islands.length} ${islands.length === 1 ? 'face' : 'faces'} of the cut ${without === 1 ? 'has' : 'have'} no room for a peg of ${fixed(peg.leastMm, 1)} mm with ${fixed(peg.fitMm, 2)} mm about it and a wall of ${fixed(wallOf(job), 1)} mm: ${without === 1 ? 'it was' : 'they were'} made without. Hold the halves together by hand or by tape.`,
      ),
    );
  return { halves: solids, pegs };
}

/** Wall left around a socket if the process is not named, mm. Common practice, no source. */
const WALL_MM = 1;
export const wallOf = (job: PrintJob): number => job.rules.process?.wallMm ?? WALL_MM;

/** The thickest pegs that fit a region: two far apart, or one in the middle; none if it is too small. */
function roomsOn(job: PrintJob, flat: Manifold, island: CrossSection): Room[] {
  const { peg } = job.rules;
  for (let diameterMm = peg.largestMm; diameterMm >= peg.leastMm - 1e-9; diameterMm -= STEP_MM) {
    const found = ([1, -1] as const)
      .map((into) => ({ into, places: placesFor(job, flat, island, diameterMm, into) }))
      .sort((a, b) => b.places.length - a.places.length)[0];
    if (found.places.length > 0)
      return found.places.map(([x, y]) => ({ x, y, into: found.into, diameterMm }));
  }
  return [];
}

function placesFor(
  job: PrintJob,
  flat: Manifold,
  island: CrossSection,
  diameterMm: number,
  into: 1 | -1,
): [number, number][] {
  const { peg } = job.rules;
  const depth = socketDepth(peg.lengthRatio * diameterMm, peg.fitMm) + wallOf(job);
  const levels = [...LEVELS.map((f) => into * f * depth), -into * FOOT_MM];
  const sections = levels.map((z) => flat.slice(z));
  const { CrossSection } = job.workshop.kernel;
  const common = CrossSection.intersection([island, ...sections]);
  const room = common.offset(-(diameterMm / 2 + peg.fitMm + wallOf(job)), 'Round');
  const islands = room.decompose().sort((a, b) => b.area() - a.area());
  const corners = islands.flatMap((i) => i.toPolygons().flat()) as [number, number][];
  let places: [number, number][] = [];
  if (corners.length > 0) {
    const pair = farthest(corners);
    const isLong = Math.hypot(pair[0][0] - pair[1][0], pair[0][1] - pair[1][1]) >= APART * diameterMm;
    places = isLong ? pair : [innermost(islands[0])];
  }
  for (const section of [...sections, common, room, ...islands]) section.delete();
  return places;
}

/** Depth of a socket: the length of the peg plus a gap at its end. */
const socketDepth = (lengthMm: number, fitMm: number): number => lengthMm + 2 * fitMm;

function farthest(points: readonly [number, number][]): [[number, number], [number, number]] {
  const from = ([x, y]: readonly [number, number]): [number, number] =>
    points.reduce((a, b) => (Math.hypot(b[0] - x, b[1] - y) > Math.hypot(a[0] - x, a[1] - y) ? b : a));
  const one = from(points[0]);
  return [one, from(one)];
}

/** The point of a region that remains last as the region shrinks. */
function innermost(region: CrossSection): [number, number] {
  const middle = (section: CrossSection): [number, number] => {
    const { min, max } = section.bounds();
    return [(min[0] + max[0]) / 2, (min[1] + max[1]) / 2];
  };
  const { min, max } = region.bounds();
  let low = 0;
  let high = Math.min(max[0] - min[0], max[1] - min[1]) / 2;
  let at = middle(region);
  for (let pass = 0; pass < 8; pass++) {
    const by = (low + high) / 2;
    const shrunk = region.offset(-by, 'Round');
    const parts = shrunk.decompose().sort((a, b) => b.area() - a.area());
    // An empty region decomposes into one empty part.
    if (parts.length > 0 && !parts[0].isEmpty()) {
      at = middle(parts[0]);
      low = by;
    } else high = by;
    for (const part of [shrunk, ...parts]) part.delete();
  }
  return at;
}

/** A peg with one flat side and a tapered tip, and its socket; both extend across the plane. */
function pegAt(
  job: PrintJob,
  plane: CutPlane,
  room: Room,
): { on: Peg['on']; at: Vec3; body: Manifold; hole: Manifold } {
  const { workshop } = job;
  const { peg } = job.rules;
  const { u, v, n } = planeAxes(plane);
  const radius = room.diameterMm / 2;
  const lengthMm = peg.lengthRatio * room.diameterMm;
  const tip = Math.min(lengthMm / 4, 0.6);
  const shaft = outlineOf(job, radius, FLAT * radius);
  const socket = outlineOf(job, radius + peg.fitMm, FLAT * radius + peg.fitMm);
  const raised = (outline: CrossSection, from: number, heightMm: number, top = 1): Manifold => {
    const made = workshop.keep(workshop.kernel.Manifold.extrude(outline, heightMm, 0, 0, [top, top]));
    return workshop.keep(made.translate([0, 0, from]));
  };
  const body = workshop.union([
    raised(shaft, -FOOT_MM, FOOT_MM + lengthMm - tip),
    raised(shaft, lengthMm - tip, tip, 1 - tip / (2 * radius)),
  ]);
  const hole = raised(socket, -FOOT_MM, FOOT_MM + socketDepth(lengthMm, peg.fitMm));
  shaft.delete();
  socket.delete();
  const at = add(plane.point, add(scale(u, room.x), scale(v, room.y)));
  // For half B the peg is turned over about u, so that the axes stay right-handed.
  const [y, z] = room.into === 1 ? [v, n] : [scale(v, -1), scale(n, -1)];
  const put = (solid: Manifold): Manifold => workshop.place(solid, u, y, z, at);
  return { on: room.into === 1 ? 'B' : 'A', at, body: put(body), hole: put(hole) };
}

/** A circle minus the part beyond a chord. */
function outlineOf(job: PrintJob, radius: number, flat: number): CrossSection {
  const { CrossSection } = job.workshop.kernel;
  const corners = Array.from({ length: CORNERS }, (_, i): [number, number] => {
    const angle = (2 * Math.PI * (i + 0.5)) / CORNERS;
    return [Math.min(flat, radius * Math.cos(angle)), radius * Math.sin(angle)];
  });
  return new CrossSection([corners], 'NonZero');
}
