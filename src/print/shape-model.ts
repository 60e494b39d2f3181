import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { add, cross, distance, scale, type Vec3 } from '../foundation/vector.js';
import { endCutter, outerWall } from './hollow.js';
import type { JoinedModel } from './join-model.js';
import type { PrintJob, SolidPart } from './print-job.js';
import { findTagPlace, placeTag, tagAxes, tagLines, tagPlate } from './tag.js';
import { sleeve, sleeveDiameterMm, type ThinStretch, thinStretches } from './thicken.js';
import { meshOfSolid } from './workshop.js';

/** The printable model. */
export interface ShapedModel {
  /** With tag and, where hollow, its open lumen. */
  solid: Manifold;
  /** Without tag. */
  core: Manifold;
  /** Its outer side without tag. */
  outside: Manifold;
  /** Bodies added to each thickened vessel. */
  sleeves: Map<string, Manifold[]>;
  /** Stretches thickened, mm of the print. */
  thickened: Map<string, ThinStretch[]>;
  tag?: {
    solid: Manifold;
    letters?: Manifold;
    centre: Vec3;
    right: Vec3;
    up: Vec3;
    widthMm: number;
    heightMm: number;
    lines: string[];
  };
}

/** Thinnest stem of a tag, mm. */
const STEM_MM = 3;
/** Gap between the lines of the letters where the process is not known, mm. */
const GAP_MM = 0.5;

/** Thickens what is too thin, puts the outer wall about an open lumen where asked, and joins the tag. */
export async function shapeModel(
  job: PrintJob,
  joined: JoinedModel,
  beside: readonly SolidPart[],
): Promise<ShapedModel> {
  const { workshop, wallMm } = job;
  const { sleeves, thickened } = thickenVessels(job);
  const extra = [...sleeves.values()].flat();
  const ends = wallMm > 0 ? openEnds(job, joined.solid) : [];
  const cut = (solid: Manifold): Manifold =>
    ends.length > 0 ? workshop.difference(solid, workshop.union(ends)) : solid;
  const shell = wallMm > 0 ? await outerWall(workshop, joined.solid, wallMm) : joined.solid;
  const outside = cut(workshop.union([shell, ...extra]));
  const tag = await joinTag(job, outside, joined, beside, [...thickened.keys()]);
  const whole = tag ? workshop.union([outside, tag.solid]) : outside;
  if (wallMm === 0) return { solid: whole, core: outside, outside, sleeves, thickened, ...(tag && { tag }) };
  const solid = largestBody(job, workshop.difference(whole, joined.solid));
  const core = workshop.difference(outside, joined.solid);
  return { solid, core, outside, sleeves, thickened, ...(tag && { tag }) };
}

function thickenVessels(job: PrintJob): Pick<ShapedModel, 'sleeves' | 'thickened'> {
  const sleeves = new Map<string, Manifold[]>();
  const thickened = new Map<string, ThinStretch[]>();
  const pinMm = job.rules.process?.pinMm;
  if (pinMm === undefined) return { sleeves, thickened };
  for (const vessel of job.lesion.vessels) {
    const stretches = thinStretches(vessel, job.wallMm, pinMm);
    const bodies = stretches.flatMap(
      (s) => sleeve(job.workshop, vessel.centrelineMm, s, sleeveDiameterMm(s, job.wallMm, pinMm)) ?? [],
    );
    if (bodies.length === 0) continue;
    sleeves.set(vessel.name, bodies);
    thickened.set(vessel.name, stretches);
    const where = stretches.map((s) => `${fixed(s.fromMm, 1)} to ${fixed(s.toMm, 1)} mm`).join(', ');
    const narrowest = Math.min(...stretches.map((s) => s.narrowestMm)) + 2 * job.wallMm;
    job.findings.push(
      finding(
        'caution',
        'print-thickened',
        vessel.name,
        `${vessel.name} would be ${fixed(narrowest, 2)} mm thin on the print; ${job.rules.process!.name} needs ${fixed(pinMm, 1)} mm. It was thickened to that from its far end ${where} and is not true to size there; the tag says so.`,
      ),
    );
  }
  return { sleeves, thickened };
}

/** Bodies that open the lumen at every vessel's far end. */
function openEnds(job: PrintJob, lumen: Manifold): Manifold[] {
  const { process } = job.rules;
  const cutters: Manifold[] = [];
  let widestMm = 0;
  for (const vessel of job.lesion.vessels) {
    const first = vessel.profile[0];
    if (!first || vessel.centrelineMm.length < 2) {
      job.findings.push(
        finding(
          'caution',
          'print-end-closed',
          vessel.name,
          'Its far end was not found, so the lumen stays closed there.',
        ),
      );
      continue;
    }
    const cutAtMm = Math.max(first.atMm, 0.2);
    const cutter = endCutter(
      job.workshop,
      { name: vessel.name, centreline: vessel.centrelineMm, cutAtMm, calibreMm: first.maxMm },
      job.wallMm,
    );
    const inside = job.workshop.intersection(lumen, cutter).volume();
    const own = first.areaMm2 * cutAtMm;
    if (inside > 2 * own + 1) {
      job.findings.push(
        finding(
          'caution',
          'print-end-closed',
          vessel.name,
          'Another vessel passes so close to its far end that the end cannot be cut open: the lumen stays closed there.',
        ),
      );
      continue;
    }
    cutters.push(cutter);
    widestMm = Math.max(widestMm, first.minMm);
    if (process && vessel.calibreMm.min < process.holeMm) {
      job.findings.push(
        finding(
          'caution',
          'print-lumen-narrow',
          vessel.name,
          `Its lumen is ${fixed(vessel.calibreMm.min, 2)} mm at its narrowest; below ${fixed(process.holeMm, 1)} mm it may not stay open.`,
        ),
      );
    }
  }
  if (process?.drainMm !== undefined && widestMm < process.drainMm) {
    job.findings.push(
      finding(
        'caution',
        'print-drain-narrow',
        'print',
        `The widest open end is ${fixed(widestMm, 1)} mm; ${process.name} needs ${fixed(process.drainMm, 1)} mm to empty a hollow part. Plan a drain hole with the printing shop.`,
      ),
    );
  }
  return cutters;
}

async function joinTag(
  job: PrintJob,
  outside: Manifold,
  joined: JoinedModel,
  beside: readonly SolidPart[],
  notToSize: readonly string[],
): Promise<ShapedModel['tag']> {
  const { input, workshop } = job;
  const axes = tagAxes(input.frame);
  const lines = tagLines({
    caseId: input.caseId,
    scale: job.scale,
    side: input.side,
    frame: input.frame,
    notToSize,
  });
  if (input.frame === 'unknown') {
    job.findings.push(
      finding(
        'caution',
        'print-orientation-unknown',
        'surfaces.frame',
        'The case does not say the patient axes: the tag bears no directions. Do not take left and right from the print.',
      ),
    );
  }
  const { process } = job.rules;
  const { solid: plate, letters, size } = tagPlate(workshop, lines, process?.gapMm ?? GAP_MM);
  const stemMm = Math.max(STEM_MM, process?.pinMm ?? 0);
  const { WindingField } = await import('./winding-field.js');
  const field = new WindingField(meshOfSolid(outside));
  const others = beside.map((part) => new WindingField(meshOfSolid(part.body)));
  const kept = job.lesion.vessels.flatMap((v) => (v.landing ? [v.landing.centreMm] : []));
  kept.push(...(job.lesion.sac?.longestEndsMm ?? []));
  const place = findTagPlace(outside.boundingBox(), anchorsOf(job, joined), axes, size, stemMm, {
    hit: (from, direction) => field.first(from, direction)?.distance,
    depth: (at, direction) => field.first(at, direction)?.distance ?? 0,
    isBlocked: (from, direction, lengthMm) =>
      others.some((o) => (o.first(from, direction)?.distance ?? Infinity) < lengthMm),
    isKept: (at) => kept.some((k) => distance(k, at) < stemMm / 2 + KEEP_MM),
    plateTouches: (centre) => {
      const there = placeTag(workshop, plate, axes, centre);
      return beside.some((part) => workshop.intersection(there, part.body).volume() > 0);
    },
  });
  if (!place) {
    job.findings.push(
      finding(
        'caution',
        'print-tag-absent',
        'print',
        'No place was found where a tag can be joined without standing in the way: the print bears no case, scale or directions. Mark it by hand.',
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
  };
}

/** Room about a check point that a stem must leave, mm. */
const KEEP_MM = 4;

/** Points to aim a stem at, the best first: the sac's middle and beside it, then the vessels' middles, then the middles of all structures. */
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
  for (const part of joined.parts) {
    const { min, max } = part.solid.boundingBox();
    out.push([0, 1, 2].map((k) => (min[k] + max[k]) / 2) as Vec3);
  }
  return out;
}

/** A hollow model in one piece: shavings that a cut leaves are taken away and said. */
function largestBody(job: PrintJob, solid: Manifold): Manifold {
  const pieces = job.workshop.decompose(solid).sort((a, b) => b.volume() - a.volume());
  const limit = job.rules.largestIsland * pieces[0].volume();
  // A closed lumen is a piece of negative volume and belongs to the model.
  const dropped = pieces.filter((p) => p.volume() > 0 && p.volume() <= limit && p !== pieces[0]);
  for (const piece of dropped) {
    const { min, max } = piece.boundingBox();
    job.findings.push(
      finding(
        'note',
        'print-island-removed',
        'print',
        `A shaving of ${fixed(piece.volume(), 2)} mm³ at [${min.map((c, k) => fixed((c + max[k]) / 2, 1)).join(', ')}] mm left by opening the lumen was removed.`,
      ),
    );
  }
  if (dropped.length === 0) return solid;
  return job.workshop.keep(job.workshop.kernel.Manifold.compose(pieces.filter((p) => !dropped.includes(p))));
}
