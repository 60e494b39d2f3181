import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { type CutModel, cutInHalves } from './cut-model.js';
import { type CutPlane, cutPlane, heightAbove } from './cut-plane.js';
import type { Gauge } from './gauges/gauge.js';
import { placeGauges } from './gauges/place-gauges.js';
import { endCutter, outerWall, toPrint } from './hollow.js';
import { type Handedness, handedness } from './handedness.js';
import type { JoinedModel } from './join-model.js';
import { joinTag, type Tag } from './join-tag.js';
import { lugsAcross } from './lugs.js';
import { type ModelId, modelId } from './model-id.js';
import type { PrintJob, SolidPart } from './print-job.js';
import { place } from './repair-part.js';
import { keepWallsBetween } from './septa.js';
import { splitAt } from './split-model.js';
import { holdInPlace, type Strut } from './struts.js';
import { sleeve, sleeveDiameterMm, type ThinStretch, thinStretches } from './thicken.js';
import { meshOfSolid } from './workshop.js';

/** The printable model. */
export interface ShapedModel {
  /** In one piece, with tags, struts and, if hollow, its open lumen. */
  solid: Manifold;
  /** Without tag. */
  core: Manifold;
  /** Bodies added to each thickened vessel. */
  sleeves: Map<string, Manifold[]>;
  /** Stretches thickened, mm of the print. */
  thickened: Map<string, ThinStretch[]>;
  /** One tag, or one for each half of a cut model. */
  tags: Tag[];
  gauges: Gauge[];
  struts: Strut[];
  /** Structures next to the lesion that struts join to it. */
  held: string[];
  cut?: CutModel;
  model: ModelId;
  /** Absent without a tag, or if no three landmarks can be told apart. */
  handedness?: Handedness;
}

/**
 * Thickens thin vessels, or builds the outer wall around an open lumen, joins the tag, places the check points, holds loose bodies with
 * struts and cuts the model, as requested. Check points come before the struts, which keep clear of them.
 */
export async function shapeModel(
  job: PrintJob,
  joined: JoinedModel,
  beside: readonly SolidPart[],
): Promise<ShapedModel> {
  const { workshop, wallMm } = job;
  const { sleeves, thickened } = thickenVessels(job);
  const extra = [...sleeves.values()].flat();
  const ends = wallMm > 0 ? openEnds(job, joined.solid) : [];
  const opened = (solid: Manifold): Manifold =>
    ends.length > 0 ? workshop.difference(solid, workshop.union(ends)) : solid;
  const shell = wallMm > 0 ? await outerWall(workshop, joined.solid, wallMm) : joined.solid;
  const lumen = wallMm > 0 ? await keepWallsBetween(job, joined.solid) : joined.solid;
  const outside = opened(workshop.union([shell, ...extra]));
  const hollowed = (solid: Manifold): Manifold => (wallMm > 0 ? workshop.difference(solid, lumen) : solid);
  const plane = cutPlane(job, outside);
  const halves = plane && halvesOf(job, outside, plane);
  const others = beside.map((part) => part.body);
  workshop.work.doing = 'placing the tag';
  const model = modelId(meshOfSolid(outside), job.scale, wallMm);
  const words = { notToSize: [...thickened.keys()], model: model.short };
  const tags = await tagsOf(job, { outside, halves, plane }, joined, others, words);
  const tagged = workshop.union([outside, ...tags.map((t) => t.solid)]);
  const bare = hollowed(tagged);
  const isJoined = job.input.print.struts === 'yes' && others.length > 0;
  const reached = isJoined ? workshop.union([bare, ...others]) : bare;
  workshop.work.doing = 'placing check points';
  const gauges = gaugesOf(job, { outside, tagged, printed: reached }, tags[0], thickened);
  const free = { gauges, solids: tags.map((t) => t.solid), plane: halves && plane };
  const lugs = halves && wallMm > 0 ? lugsAcross(job, { outside, lumen }, plane, free) : [];
  free.solids.push(...lugs);
  workshop.work.doing = 'placing support rods';
  const { struts, added, held } = await holdInPlace(job, outside, joined, beside, free);
  const more = [...lugs, ...added];
  const all = more.length > 0 ? hollowed(workshop.union([tagged, ...more])) : bare;
  const solid = wallMm > 0 ? largestBody(job, all) : all;
  const hand = tags.length > 0 ? handedness(job.lesion, tags[0]) : undefined;
  const cut = plane && halves && cutInHalves(job, solid, plane, lugs.length);
  return {
    solid,
    core: hollowed(outside),
    sleeves,
    thickened,
    tags,
    gauges,
    struts,
    held,
    model,
    ...(hand && { handedness: hand }),
    ...(cut && { cut }),
  };
}

/** Both sides of the model; undefined, with a finding, if the plane misses it. */
function halvesOf(job: PrintJob, outside: Manifold, plane: CutPlane): [Manifold, Manifold] | undefined {
  const halves = splitAt(job, outside, plane);
  if (!halves)
    job.findings.push(
      finding(
        'caution',
        'print-cut-absent',
        'print.cut',
        `The model was not cut: the plane through ${place(plane.point)} of the print does not divide it.`,
      ),
    );
  return halves;
}

/** Clearance between a tag and the cut, mm. */
const TAG_CLEAR_MM = 2.5;

/** One tag, or one for each half of a cut model. */
async function tagsOf(
  job: PrintJob,
  model: { outside: Manifold; halves?: [Manifold, Manifold]; plane?: CutPlane },
  joined: JoinedModel,
  others: readonly Manifold[],
  words: { notToSize: readonly string[]; model: string },
): Promise<Tag[]> {
  if (job.input.frame === 'unknown') {
    job.findings.push(
      finding(
        'caution',
        'print-orientation-unknown',
        'surfaces.frame',
        'The case does not state the patient axes: the tag bears no directions. Do not take left and right from the print.',
      ),
    );
  }
  const { halves, plane } = model;
  if (!halves || !plane) {
    const tag = await joinTag(job, model.outside, joined, others, words);
    return tag ? [tag] : [];
  }
  const tags: Tag[] = [];
  for (const [i, letter] of (['A', 'B'] as const).entries()) {
    const side = i === 0 ? 1 : -1;
    // Half A of a cut at a neck is everything except the vessel, on both sides of the plane.
    const isOwn = (p: Vec3): boolean =>
      (plane.vessel !== undefined && i === 0) || side * heightAbove(plane, p) > TAG_CLEAR_MM;
    const standing = [...others, halves[1 - i], ...tags.map((t) => t.solid)];
    const tag = await joinTag(job, halves[i], joined, standing, words, { letter, isOwn });
    if (tag) tags.push(tag);
  }
  return tags;
}

function gaugesOf(
  job: PrintJob,
  model: Record<'outside' | 'tagged' | 'printed', Manifold>,
  tag: Tag | undefined,
  thickened: ShapedModel['thickened'],
): Gauge[] {
  const sac = job.input.parts.find((p) => p.role === 'sac');
  return placeGauges({
    outside: meshOfSolid(model.outside),
    tagged: meshOfSolid(model.tagged),
    printed: meshOfSolid(model.printed),
    lesion: job.lesion,
    sac: sac && toPrint(sac.mesh, job.originMm, job.scale),
    wallMm: job.wallMm,
    thickened,
    tag,
    tolerances: job.tolerances,
  });
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

/** A hollow model in one piece: fragments left by a cut are removed with a finding. */
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
