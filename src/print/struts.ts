import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import {
  add,
  cross,
  distance,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { WindingField } from '../mesh/winding-field.js';
import { type CutPlane, heightAbove } from './cut-plane.js';
import type { Gauge } from './gauges/gauge.js';
import type { JoinedModel } from './join-model.js';
import type { PrintJob, SolidPart } from './print-job.js';
import { place } from './repair-part.js';
import { meshOfSolid } from './workshop.js';

/** A rod that holds two bodies in place, print coordinates. */
export interface Strut {
  /** The bodies it joins. */
  from: string;
  to: string;
  /** Its two ends on the surfaces. */
  ends: [Vec3, Vec3];
  diameterMm: number;
  solid: Manifold;
}

/** One connected body. */
interface Body {
  name: string;
  solid: Manifold;
}

/** What rods must keep clear of. */
export interface KeptFree {
  gauges: readonly Gauge[];
  /** Tags and similar bodies. */
  solids: readonly Manifold[];
  plane?: CutPlane;
  /** A rod must meet both bodies with its whole end face. */
  isFirm?: boolean;
}

/**
 * Rods requested in the case (`print.struts`): to vessels that would be loose, and to airway, heart and chest wall. `added` is joined to
 * the model: rods, and the structures that they hold. Structures that stay loose give findings.
 */
export async function holdInPlace(
  job: PrintJob,
  outside: Manifold,
  joined: JoinedModel,
  beside: readonly SolidPart[],
  free: KeptFree,
): Promise<{ struts: Strut[]; added: Manifold[]; held: string[] }> {
  const { workshop } = job;
  const wish = job.input.print.struts ?? 'auto';
  const pool = bodiesOf(job, outside, joined);
  const surroundings =
    wish === 'yes'
      ? beside.flatMap((part) =>
          workshop
            .decompose(workshop.union([part.body, ...part.fragments]))
            .filter((piece) => piece.volume() > 0)
            .map((solid) => ({ name: part.name, solid })),
        )
      : [];
  const bodies = [...pool, ...surroundings];
  const { struts, held, loose } =
    wish === 'no' || bodies.length < 2
      ? { struts: [], held: pool.slice(0, 1), loose: pool.slice(1) }
      : await placeStruts(job, bodies, free);
  for (const body of pool.slice(1)) sayFloating(job, body.name, loose.includes(body));
  for (const name of new Set(struts.map((s) => s.from))) sayRods(job, name, struts);
  for (const body of surroundings.filter((b) => loose.includes(b)))
    job.findings.push(
      finding(
        'caution',
        'print-strut-absent',
        body.name,
        `No rod of up to ${fixed(job.rules.strut.longestMm, 0)} mm reaches it without standing in the way: it stays a separate part.`,
      ),
    );
  const kept = surroundings.filter((b) => held.includes(b));
  return {
    struts,
    added: [...struts.map((s) => s.solid), ...kept.map((b) => b.solid)],
    held: [...new Set(kept.map((b) => b.name))],
  };
}

const LESION = 'the lesion';

/** Connected bodies of the model, the largest first; the others identified by a structure in each. */
function bodiesOf(job: PrintJob, outside: Manifold, joined: JoinedModel): Body[] {
  if (joined.bodies.length < 2) return [{ name: LESION, solid: outside }];
  return job.workshop
    .decompose(outside)
    .filter((piece) => piece.volume() > 0)
    .sort((a, b) => b.volume() - a.volume())
    .map((solid, i) => {
      if (i === 0) return { name: LESION, solid };
      const inside = joined.bodies.find((b) => job.workshop.intersection(b.solid, solid).volume() > 0);
      return { name: inside?.name ?? 'print', solid };
    });
}

function sayFloating(job: PrintJob, name: string, isLoose: boolean): void {
  job.findings.push(
    isLoose
      ? finding(
          'stop',
          'print-part-floating',
          name,
          `${name} touches no other structure of the lesion: the print comes in loose pieces. Check the segmentation where it should join.`,
        )
      : finding(
          'caution',
          'print-part-floating',
          name,
          `${name} touches no other structure of the lesion; rods hold it in its place. Check the segmentation where it should join.`,
        ),
  );
}

function sayRods(job: PrintJob, name: string, struts: readonly Strut[]): void {
  const own = struts.filter((s) => s.from === name);
  const each = own.map(
    (s) =>
      `${fixed(s.diameterMm, 1)} mm thick, ${fixed(distance(...s.ends), 1)} mm long at ${place(s.ends[0])}`,
  );
  job.findings.push(
    finding(
      'caution',
      'print-strut',
      name,
      `${own.length} ${own.length === 1 ? 'rod holds' : 'rods hold'} ${name} to ${[...new Set(own.map((s) => s.to))].join(' and ')}: ${each.join('; ')}. Rods are not anatomy.`,
    ),
  );
}

const MOST_SAMPLES = 1500;
const MOST_RODS = 3;
/** Greatest length of further rods relative to the first. */
const LONGER = 1.5;
const LONGER_MM = 5;
/** A rod meets a surface within 60 degrees of its normal. */
const UPRIGHT = 0.5;
/** Clearance for a caliper's jaws around its contacts, mm. Common practice, no source. */
const JAW_MM = 4;
/** Bodies closer than this touch, mm. */
const TOUCH_MM = 0.05;
/** Least distance between two rods to one body, diameters. */
const APART = 4;
const CORNERS = 32;

interface Foot {
  at: Vec3;
  to: Vec3;
  onto: Held;
  lengthMm: number;
}

interface Held extends Body {
  body: Body;
  /** Triangles. */
  count: number;
  field: WindingField;
}

/**
 * Joins bodies that do not touch to the first of them, each to its nearest neighbour with up to three rods: the shortest that are nearly
 * perpendicular to both surfaces, meet nothing else and keep clear of check points, tags and the cut. `loose` are those that no rod
 * reaches.
 */
async function placeStruts(
  job: PrintJob,
  bodies: readonly Body[],
  free: KeptFree,
): Promise<{ struts: Strut[]; held: Body[]; loose: Body[] }> {
  const { WindingField } = await import('../mesh/winding-field.js');
  const all: Held[] = bodies.map((body) => {
    const mesh = meshOfSolid(body.solid);
    return {
      body,
      ...body,
      count: mesh.triangles.length / 3,
      field: new WindingField(mesh, job.workshop.work),
    };
  });
  const held = all.slice(0, 1);
  const waiting = all.slice(1);
  const struts: Strut[] = [];
  const loose: Body[] = [];
  while (waiting.length > 0) {
    const reach = waiting.map((body) => feetOf(job, body, held));
    const next = reach.reduce((best, feet, i) => (nearest(feet) < nearest(reach[best]) ? i : best), 0);
    const [body] = waiting.splice(next, 1);
    const touches = held.some((h) => job.workshop.intersection(h.solid, body.solid).volume() > 1e-3);
    const feet = touches ? [] : reach[next];
    const firm = rodsOn(job, body, feet, all, { ...free, isFirm: true });
    const rods = firm.length > 0 ? firm : rodsOn(job, body, feet, all, free);
    if (!touches && rods.length === 0) loose.push(body.body);
    else held.push(body);
    struts.push(...rods);
  }
  return { struts, held: held.map((h) => h.body), loose };
}

const nearest = (feet: readonly Foot[]): number => feet[0]?.lengthMm ?? Number.POSITIVE_INFINITY;

/** Candidate rods between a body and the held ones, nearly perpendicular to both, the shortest first. */
function feetOf(job: PrintJob, body: Held, held: readonly Held[]): Foot[] {
  const feet: Foot[] = [];
  for (const onto of held) {
    for (const way of waysFrom(job, body, onto)) feet.push({ ...way, onto });
    for (const way of waysFrom(job, onto, body))
      feet.push({ at: way.to, to: way.at, lengthMm: way.lengthMm, onto });
  }
  return feet.sort((a, b) => a.lengthMm - b.lengthMm);
}

/** Lines from evenly sampled triangles of one body to the closest point of the other, and straight outwards to it. */
function waysFrom(job: PrintJob, from: Held, to: Held): Omit<Foot, 'onto'>[] {
  const stride = Math.max(1, Math.ceil(from.count / MOST_SAMPLES));
  const most = job.rules.strut.longestMm;
  const ways: Omit<Foot, 'onto'>[] = [];
  for (let t = 0; t < from.count; t += stride) {
    const at = from.field.centroid(t);
    const normal = from.field.normal(t);
    const closest = to.field.closest(at, most);
    if (!closest || closest.distance < TOUCH_MM) continue;
    const ahead = to.field.first(at, normal);
    const ends = [
      { point: closest.point, distance: closest.distance, triangle: closest.triangle },
      ...(ahead && ahead.distance <= most
        ? [{ ...ahead, point: add(at, scale(normal, ahead.distance)) }]
        : []),
    ];
    for (const { point, distance: lengthMm, triangle } of ends) {
      const along = normalize(subtract(point, at));
      if (dot(normal, along) >= UPRIGHT && dot(to.field.normal(triangle), along) <= -UPRIGHT)
        ways.push({ at, to: point, lengthMm });
    }
  }
  return ways;
}

function rodsOn(
  job: PrintJob,
  body: Held,
  feet: readonly Foot[],
  all: readonly Held[],
  free: KeptFree,
): Strut[] {
  const { strut, process } = job.rules;
  const rods: Strut[] = [];
  for (const foot of feet) {
    const shortest = rods[0] && distance(...rods[0].ends);
    if (rods.length === MOST_RODS || foot.lengthMm > LONGER * shortest + LONGER_MM) break;
    const least = Math.max(strut.leastMm, process?.pinMm ?? 0);
    const diameterMm = Math.max(least, foot.lengthMm / strut.slenderness);
    const middle = scale(add(foot.at, foot.to), 0.5);
    const isNear = rods.some((r) => distance(scale(add(...r.ends), 0.5), middle) < APART * diameterMm);
    if (isNear || !isClear(foot, diameterMm, all, free)) continue;
    if (free.isFirm && !landsFirmly(foot, diameterMm, body)) continue;
    const solid = rodBetween(job, foot, diameterMm, body);
    const others = [...all.filter((o) => o !== body && o !== foot.onto).map((o) => o.solid), ...free.solids];
    if (others.some((o) => job.workshop.intersection(solid, o).volume() > 1e-6)) continue;
    rods.push({ from: body.name, to: foot.onto.name, ends: [foot.at, foot.to], diameterMm, solid });
  }
  return rods;
}

/** Whether nothing is between the ends, and check points and the cut stay clear. */
function isClear(foot: Foot, diameterMm: number, all: readonly Held[], { gauges, plane }: KeptFree): boolean {
  const along = normalize(subtract(foot.to, foot.at));
  const from = add(foot.at, scale(along, 1e-3));
  const isMet = all.some((o) => {
    const hit = o.field.first(from, along);
    return hit !== undefined && hit.distance < foot.lengthMm - 0.01;
  });
  if (isMet) return false;
  const r = diameterMm / 2;
  if (plane) {
    const [a, b] = [heightAbove(plane, foot.at), heightAbove(plane, foot.to)];
    if (a * b <= 0 || Math.min(Math.abs(a), Math.abs(b)) < 2 * diameterMm) return false;
  }
  return gauges.every((g) => leavesFree(g, foot, r));
}

/** Whether a caliper's jaws keep their clearance: around a vessel, the ring in which they turn; else around their contacts. */
export function leavesFree(gauge: Gauge, { at, to }: Pick<Foot, 'at' | 'to'>, radiusMm: number): boolean {
  if (gauge.kind !== 'diameter' || !gauge.along)
    return [gauge.point, ...(gauge.to ? [gauge.to] : [])].every(
      (p) => fromSegment(p, at, to) >= radiusMm + JAW_MM,
    );
  const [a, b] = [at, to].map((p) => dot(subtract(p, gauge.point), gauge.along!));
  const reach = radiusMm + JAW_MM;
  if (Math.min(a, b) > reach || Math.max(a, b) < -reach) return true;
  // The stretch of the rod next to the ring.
  const cut = (h: number): number => (a === b ? 0 : Math.max(0, Math.min(1, (h - a) / (b - a))));
  const between = (t: number): Vec3 => add(at, scale(subtract(to, at), t));
  const ends = [between(cut(-reach)), between(cut(reach))] as const;
  return fromSegment(gauge.point, ...ends) >= gauge.expectedMm / 2 + reach;
}

/** Whether rays along the rod's rim meet both bodies within its thickness of its ends, so that no foot is on an edge. */
function landsFirmly(foot: Foot, diameterMm: number, body: Held): boolean {
  const along = normalize(subtract(foot.to, foot.at));
  const u = perpendicular(along);
  const v = cross(along, u);
  const middle = scale(add(foot.at, foot.to), 0.5);
  const most = foot.lengthMm / 2 + diameterMm;
  return Array.from({ length: RIM_RAYS }, (_, i) => (2 * Math.PI * i) / RIM_RAYS).every((angle) => {
    const out = add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle)));
    const from = add(middle, scale(out, RIM * (diameterMm / 2)));
    return (
      (foot.onto.field.first(from, along)?.distance ?? Infinity) < most &&
      (body.field.first(from, scale(along, -1))?.distance ?? Infinity) < most
    );
  });
}

const RIM_RAYS = 8;
/** Fraction of the radius at which the rim is checked. */
const RIM = 1.1;

/** Distance of a point from a straight line between two ends. */
function fromSegment(p: Vec3, a: Vec3, b: Vec3): number {
  const d = subtract(b, a);
  const t = Math.max(0, Math.min(1, dot(subtract(p, a), d) / Math.max(dot(d, d), 1e-12)));
  return distance(p, add(a, scale(d, t)));
}

/** A round rod whose ends enter both bodies, at most half way through. */
function rodBetween(job: PrintJob, foot: Foot, diameterMm: number, body: Held): Manifold {
  const along = normalize(subtract(foot.to, foot.at));
  const into = (field: WindingField, at: Vec3, inwards: Vec3): number =>
    Math.min(diameterMm, (field.first(add(at, scale(inwards, 1e-3)), inwards)?.distance ?? 0) / 2);
  const back = into(body.field, foot.at, scale(along, -1));
  const on = into(foot.onto.field, foot.to, along);
  return job.workshop.bar(
    add(foot.at, scale(along, -back)),
    add(foot.to, scale(along, on)),
    diameterMm / 2 / Math.cos(Math.PI / CORNERS),
    CORNERS,
  );
}
