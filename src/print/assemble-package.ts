import type { Manifold } from 'manifold-3d/manifold';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { scale, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Result } from '../result/result.generated.js';
import { type Placement, standOnBed } from './bed.js';
import { cleanMesh, isClean, type SolidCheck } from './check-solid.js';
import type { CutModel } from './cut-model.js';
import type { Gauge } from './gauges/gauge.js';
import type { JoinedModel } from './join-model.js';
import { measureWall, type WallMeasure } from './min-wall.js';
import type { PrintJob, SolidPart } from './print-job.js';
import { resultOf } from './print-result.js';
import { type PrintedPart, printedBodies } from './printed-part.js';
import { place } from './repair-part.js';
import type { ShapedModel } from './shape-model.js';
import { meshOfSolid } from './workshop.js';

/** The printable export: bodies, check points and their part of the plan. */
export interface PrintPackage {
  caseId: string;
  /** A mark that every mesh file must contain. */
  mark?: string;
  /** The fused model first; then each structure as it meets its neighbours face to face, and the structures next to the lesion. */
  parts: PrintedPart[];
  /** Only the letters of the tags, for pictures; print coordinates. */
  letters?: TriangleMesh;
  /** Shift of half B of a cut model in the thumbnail, to show the halves apart, mm. */
  apartMm?: Vec3;
  /** The build items of the 3MF, in this order, and their placement on the bed. */
  bed: Placement[];
  /** Print coordinates. */
  gauges: Gauge[];
  findings: Finding[];
  /** For result.json; points in the case's coordinates. */
  result: NonNullable<Result['print']>;
}

/** Colours that remain distinguishable with the common colour-vision deficiencies (Okabe and Ito 2008). */
const COLOURS: Record<string, string> = {
  model: '#BBBBBB',
  'half-A': '#BBBBBB',
  'half-B': '#56B4E9',
  tag: '#F0E442',
  strut: '#000000',
  whole: '#BBBBBB',
  feeder: '#D55E00',
  'systemic-feeder': '#E69F00',
  sac: '#CC79A7',
  drain: '#0072B2',
  branch: '#E69F00',
  airway: '#56B4E9',
  heart: '#009E73',
  'chest-wall': '#999999',
};

/** Edges of an outer wall's facets shorter than this are collapsed, mm. */
const HOLLOW_SIMPLIFY_MM = 0.004;
/** Cut-off fragments of a part below this volume are removed, mm³. */
const SHAVING_MM3 = 1;

/** Turns solids into checked meshes, measures walls, places check points and writes the result's numbers. */
export async function assemblePackage(
  job: PrintJob,
  shaped: ShapedModel | undefined,
  joined: JoinedModel['parts'],
  beside: readonly SolidPart[],
): Promise<PrintPackage> {
  const { input, workshop, findings } = job;
  const { WindingField } = await import('../mesh/winding-field.js');
  const parts: PrintedPart[] = [];
  const addPart = (
    name: string,
    role: PrintedPart['role'],
    solid: Manifold,
    repairs: string[],
    core = solid,
  ): void => {
    workshop.work.doing = `checking ${name}`;
    const { mesh, check } = cleanMesh(workshop, solid, job.wallMm > 0 ? HOLLOW_SIMPLIFY_MM : 0);
    if (mesh.triangles.length === 0) return;
    const limit = limitOf(job, role);
    // For the model without its tag, because raised letters are not walls.
    const bare = core === solid ? mesh : meshOfSolid(core);
    const wall = measureWall(bare, new WindingField(bare, workshop.work), limit);
    const isHeld = shaped?.held.includes(name) && beside.some((b) => b.name === name);
    const colour = COLOURS[role === 'half' ? name : role] ?? COLOURS.model;
    parts.push({ name, role, mesh, check, wall, repairs, colour, ...(isHeld && { isHeld }) });
    sayChecks(job, name, check, wall, limit, role === 'model' || beside.some((b) => b.name === name));
  };
  if (shaped) {
    addPart(
      'model',
      'model',
      shaped.solid,
      joined.flatMap((p) => p.repairs.map((r) => `${p.name}: ${r}`)),
      shaped.core,
    );
    shaped.cut?.halves.forEach((half, i) => {
      addPart(`half-${'AB'[i]}`, 'half', half, []);
    });
    for (const piece of job.wallMm === 0 ? splitParts(job, shaped, joined, beside) : [])
      addPart(piece.name, piece.role, piece.solid, piece.repairs);
  }
  if (job.wallMm > 0)
    findings.push(
      finding(
        'note',
        'print-parts-fused',
        'print',
        'A hollow model is one body: its structures are not written one by one.',
      ),
    );
  for (const part of beside)
    addPart(part.name, part.role, workshop.union([part.body, ...part.fragments]), part.repairs);
  const gauges = shaped?.gauges ?? [];
  if (shaped && gauges.length < LEAST_GAUGES)
    findings.push(
      finding(
        'caution',
        'print-gauges-few',
        'print',
        `Only ${gauges.length} check points can be reached with a caliper; ${LEAST_GAUGES} or more are wanted to judge a print.`,
      ),
    );
  const bed = standOnBed(job, printedBodies(parts));
  const drawn = shaped?.tags.flatMap((t) => t.letters ?? []) ?? [];
  const letters = drawn.length > 0 ? meshOfSolid(workshop.union(drawn)) : undefined;
  return {
    caseId: input.caseId,
    ...(input.mark !== undefined && { mark: input.mark }),
    parts,
    ...(letters && { letters }),
    ...(shaped?.cut && { apartMm: apart(shaped.cut) }),
    gauges,
    findings,
    bed,
    result: await resultOf(job, shaped, parts, gauges, bed),
  };
}

const LEAST_GAUGES = 8;
/** Gap between the halves of a cut model in the picture, mm. */
const APART_MM = 10;

function apart({ plane, pegs }: CutModel): Vec3 {
  return scale(plane.normal, -(Math.max(0, ...pegs.map((p) => p.lengthMm)) + APART_MM));
}

/** Thinnest printable size here: a wall if the model is hollow, else a pin. */
function limitOf(job: PrintJob, role: PrintedPart['role']): number | undefined {
  const { process } = job.rules;
  if (!process || role === 'tag' || role === 'strut') return undefined;
  return job.wallMm > 0 && (role === 'model' || role === 'half') ? process.wallMm : process.pinMm;
}

/** Adds the findings on one body. */
export function sayChecks(
  job: Pick<PrintJob, 'findings'>,
  name: string,
  check: SolidCheck,
  wall: WallMeasure,
  limit: number | undefined,
  sayThin: boolean,
): void {
  if (!check.isWatertight) {
    job.findings.push(
      finding(
        'stop',
        'print-not-watertight',
        name,
        'The body is not closed after all repairs: a printer would guess its inside. Do not print it; mend the surface where it was segmented.',
      ),
    );
  } else if (!isClean(check)) {
    const faults = [
      check.crossings > 0 &&
        `${check.crossings} pairs of triangles cross${check.crossingAt ? `, the first at ${place(check.crossingAt)} of the print` : ''}`,
      !check.isSearched && 'the search for crossing triangles was given up, so dense are they',
      check.pinched > 0 && `${check.pinched} vertices join bodies in a single point`,
      check.degenerate > 0 && `${check.degenerate} triangles have no area`,
    ].filter((text) => text !== false);
    job.findings.push(
      finding(
        'caution',
        'print-imperfect',
        name,
        `The body is closed, but ${faults.join('; ')}. Look at it in the printing shop's program.`,
      ),
    );
  }
  if (!sayThin || limit === undefined || wall.thin.length === 0) return;
  const worst = wall.thin[0];
  job.findings.push(
    finding(
      'caution',
      'print-thin',
      name,
      `${wall.thinCount} ${wall.thinCount === 1 ? 'region is' : 'regions are'} thinner than the ${fixed(limit, 2)} mm that the process needs, the thinnest ${fixed(worst.thicknessMm, 2)} mm at ${place(worst.at)} of the print.`,
    ),
  );
}

/** Each structure minus those before it, so that they meet face to face: the whole sac, vessels up to it, branches up to their parents. */
function splitParts(
  job: PrintJob,
  shaped: ShapedModel,
  joined: JoinedModel['parts'],
  beside: readonly SolidPart[],
): { name: string; role: PrintedPart['role']; solid: Manifold; repairs: string[] }[] {
  const { workshop } = job;
  const rank = (role: SolidPart['role']): number =>
    role === 'sac' || role === 'whole' ? 0 : role === 'branch' ? 2 : 1;
  const ordered = joined
    .map((p, i) => ({ p, i }))
    .sort((a, b) => rank(a.p.role) - rank(b.p.role) || a.i - b.i);
  let taken: Manifold | undefined;
  const out: { name: string; role: PrintedPart['role']; solid: Manifold; repairs: string[]; i: number }[] =
    [];
  const cutOff = (solid: Manifold): Manifold => (taken ? workshop.difference(solid, taken) : solid);
  for (const { p, i } of ordered) {
    const grown = workshop.union([p.solid, ...(shaped.sleeves.get(p.name) ?? [])]);
    out.push({ ...p, solid: withoutShavings(job, p.name, cutOff(grown)), i });
    taken = taken ? workshop.union([taken, grown]) : grown;
  }
  const loose = [...shaped.sleeves]
    .filter(([name]) => !joined.some((p) => p.name === name))
    .flatMap(([, bodies]) => bodies);
  if (loose.length > 0 && taken) {
    // With one surface of the whole pool, the sleeves belong to it.
    const only = out[0];
    only.solid = workshop.union([only.solid, ...loose]);
  }
  out.sort((a, b) => a.i - b.i);
  // All of these together, including sleeves: already fused.
  taken = shaped.core;
  for (const tag of shaped.tags) {
    const name = tag.half ? `tag-${tag.half}` : 'tag';
    out.push({ name, role: 'tag', solid: cutOff(tag.solid), repairs: [], i: out.length });
  }
  const held = beside.filter((part) => shaped.held.includes(part.name));
  for (const part of held) taken = workshop.union([taken, part.body, ...part.fragments]);
  shaped.struts.forEach((strut, n) => {
    const solid = withoutShavings(job, `strut-${n + 1}`, cutOff(strut.solid));
    out.push({ name: `strut-${n + 1}`, role: 'strut', solid, repairs: [], i: out.length });
  });
  return out;
}

function withoutShavings(job: PrintJob, name: string, solid: Manifold): Manifold {
  const pieces = job.workshop.decompose(solid);
  if (pieces.length < 2) return solid;
  const kept = pieces.filter((p) => p.volume() < 0 || p.volume() >= SHAVING_MM3);
  const lost = pieces.length - kept.length;
  if (lost === 0 || kept.length === 0) return solid;
  const volume = pieces.filter((p) => !kept.includes(p)).reduce((sum, p) => sum + p.volume(), 0);
  job.findings.push(
    finding(
      'note',
      'print-island-removed',
      name,
      `${lost} ${lost === 1 ? 'shaving' : 'shavings'} of ${fixed(volume, 3)} mm³ in all, left where ${name} was cut off at its neighbours, ${lost === 1 ? 'was' : 'were'} removed from its own file; the fused model keeps them.`,
    ),
  );
  return job.workshop.keep(job.workshop.kernel.Manifold.compose(kept));
}
