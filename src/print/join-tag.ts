import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { add, cross, distance, scale, type Vec3 } from '../foundation/vector.js';
import { type BoundingBox, boxesMeet } from '../mesh/measures.js';
import type { JoinedModel } from './join-model.js';
import type { PrintJob } from './print-job.js';
import { findTagPlace, placeTag, type TagAxes, type TagSize, tagAxes, tagLines, tagPlate } from './tag.js';
import { meshOfSolid } from './workshop.js';

/** A tag with its stem, print coordinates. */
export interface Tag {
  solid: Manifold;
  letters?: Manifold;
  centre: Vec3;
  right: Vec3;
  up: Vec3;
  widthMm: number;
  heightMm: number;
  lines: string[];
  /** For a cut model. */
  half?: 'A' | 'B';
}

/** The half of a cut model that a tag is for. */
export interface TaggedHalf {
  letter: 'A' | 'B';
  /** Whether a point is on the half's side of the cut. */
  isOwn(p: Vec3): boolean;
}

/** Thinnest stem of a tag, mm. */
const STEM_MM = 3;
/** Gap between the lines of the letters if the process is not known, mm. */
const GAP_MM = 0.5;

/**
 * Finds a place for the tag and makes it; undefined, with a finding, if no place is free. With `half`, `outside` is one half of a cut
 * model: its tag bears the half's letter and stays on its side.
 */
export async function joinTag(
  job: PrintJob,
  outside: Manifold,
  joined: JoinedModel,
  beside: readonly Manifold[],
  { notToSize, model }: { notToSize: readonly string[]; model: string },
  half?: TaggedHalf,
): Promise<Tag | undefined> {
  const { input, workshop } = job;
  const axes = tagAxes(input.frame);
  const lines = tagLines({
    caseId: input.caseId,
    scale: job.scale,
    side: input.side,
    frame: input.frame,
    notToSize,
    half: half?.letter,
    model,
    mark: input.mark,
  });
  const { process } = job.rules;
  const { solid: plate, letters, size } = tagPlate(workshop, lines, process?.gapMm ?? GAP_MM);
  const stemMm = Math.max(STEM_MM, process?.pinMm ?? 0);
  const { WindingField } = await import('../mesh/winding-field.js');
  const field = new WindingField(meshOfSolid(outside), workshop.work);
  const others = beside.map((part) => new WindingField(meshOfSolid(part), workshop.work));
  const kept = keptFree(job).map((k) => ({ ...k, fromMm: k.fromMm + stemMm / 2 }));
  const isOwn = half?.isOwn ?? (() => true);
  const anchors = anchorsOf(job, joined).filter(isOwn);
  if (half) anchors.push(...gridIn(job, outside).filter(isOwn));
  const place = findTagPlace(outside.boundingBox(), anchors, axes, size, stemMm, {
    hit: (from, direction) => field.first(from, direction)?.distance,
    depth: (at, direction) => field.first(at, direction)?.distance ?? 0,
    isBlocked: (from, direction, lengthMm) =>
      others.some((o) => (o.first(from, direction)?.distance ?? Infinity) < lengthMm),
    isKept: (at) => kept.some((k) => distance(k.at, at) < k.fromMm),
    plateTouches: (centre) => {
      if (!cornersOf(centre, axes, size).every(isOwn)) return true;
      const box = boxOfTag(centre, axes, size);
      const near = beside.filter((part) => boxesMeet(part.boundingBox(), box));
      if (near.length === 0) return false;
      const there = placeTag(workshop, plate, axes, centre);
      return near.some((part) => workshop.intersection(there, part).volume() > 0);
    },
  });
  if (!place) {
    job.findings.push(
      finding(
        'caution',
        'print-tag-absent',
        half ? `half-${half.letter}` : 'print',
        `No place was found where a tag can be joined without standing in the way: ${half ? `half ${half.letter}` : 'the print'} bears no case, scale or directions. Mark it by hand.`,
      ),
    );
    return undefined;
  }
  const solid = workshop.union([
    placeTag(workshop, plate, axes, place.centre),
    workshop.bar(place.stemFrom, place.stemTo, stemMm / 2),
  ]);
  return {
    solid,
    ...(letters && { letters: placeTag(workshop, letters, axes, place.centre) }),
    centre: place.centre,
    ...axes,
    widthMm: size.widthMm,
    heightMm: size.heightMm,
    lines,
    ...(half && { half: half.letter }),
  };
}

/** Clearance of a stem around a check point, mm. */
const KEEP_MM = 4;
/** Clearance of a stem around the wall of an open end, mm. */
const MOUTH_MM = 1;

/** Places that a stem must avoid: check points, and the open ends of a hollow print. */
function keptFree({ lesion, wallMm }: PrintJob): { at: Vec3; fromMm: number }[] {
  const points = lesion.vessels.flatMap((v) => (v.landing ? [v.landing.centreMm] : []));
  points.push(...(lesion.sac?.longestEndsMm ?? []));
  const mouths =
    wallMm > 0 ? lesion.vessels.filter((v) => v.centrelineMm.length > 1 && v.profile.length > 0) : [];
  return [
    ...points.map((at) => ({ at, fromMm: KEEP_MM })),
    ...mouths.map((v) => ({
      at: v.centrelineMm[0],
      fromMm: v.profile[0].atMm + v.profile[0].maxMm / 2 + wallMm + MOUTH_MM,
    })),
  ];
}

/**
 * Points to aim a stem at, the best first: the middle of the sac and points next to it, then the vessels' middles, then the middles of all
 * structures.
 */
function anchorsOf(job: PrintJob, joined: JoinedModel): Vec3[] {
  const { sac, vessels } = job.lesion;
  const axes = tagAxes(job.input.frame);
  const out: Vec3[] = [];
  if (sac) {
    const r = sac.axesMm[2] / 4;
    const outward = cross(axes.right, axes.up);
    const steps = [axes.right, axes.up, outward].flatMap((a) => [scale(a, r), scale(a, -r)]);
    out.push(sac.centreMm, ...steps.map((s) => add(sac.centreMm, s)));
  }
  for (const v of vessels) {
    const n = v.centrelineMm.length;
    if (n > 1) out.push(v.centrelineMm[Math.floor(n / 2)], v.centrelineMm[Math.floor(n / 4)]);
  }
  for (const part of joined.parts) out.push(middleOf(part.solid));
  return out;
}

/** Candidate places for a tag on a half: points along the vessels and evenly through its box. */
function gridIn(job: PrintJob, half: Manifold): Vec3[] {
  const { min, max } = half.boundingBox();
  const steps = [0.5, 0.3, 0.7, 0.15, 0.85];
  const inBox = steps.flatMap((x) =>
    steps.flatMap((y) =>
      steps.map((z): Vec3 => [x, y, z].map((f, k) => min[k] + f * (max[k] - min[k])) as Vec3),
    ),
  );
  const along = job.lesion.vessels.flatMap(({ centrelineMm: line }) =>
    line.filter((_, i) => i % Math.max(1, Math.ceil(line.length / 12)) === 0),
  );
  return [...along, ...inBox];
}

function middleOf(solid: Manifold): Vec3 {
  const { min, max } = solid.boundingBox();
  return [0, 1, 2].map((k) => (min[k] + max[k]) / 2) as Vec3;
}

/** Corners of a plate, given its middle. */
function cornersOf(centre: Vec3, axes: TagAxes, size: TagSize): Vec3[] {
  return [-1, 1].flatMap((i) =>
    [-1, 1].map((j) =>
      add(centre, add(scale(axes.right, (i * size.widthMm) / 2), scale(axes.up, (j * size.heightMm) / 2))),
    ),
  );
}

/** Allowance for rounding around a tag, mm. */
const ROUNDING_MM = 0.01;

/** A box around a plate and its letters. */
function boxOfTag(centre: Vec3, axes: TagAxes, size: TagSize): Pick<BoundingBox, 'min' | 'max'> {
  const outward = cross(axes.right, axes.up);
  const reachMm = size.plateMm / 2 + size.reliefMm;
  const points = cornersOf(centre, axes, size).flatMap((corner) =>
    [-reachMm, reachMm].map((mm) => add(corner, scale(outward, mm))),
  );
  const along = (k: number): number[] => points.map((p) => p[k]);
  return {
    min: [0, 1, 2].map((k) => Math.min(...along(k)) - ROUNDING_MM) as Vec3,
    max: [0, 1, 2].map((k) => Math.max(...along(k)) + ROUNDING_MM) as Vec3,
  };
}
