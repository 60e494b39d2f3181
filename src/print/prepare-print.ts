import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { WorkBudget, WorkSpent } from '../foundation/work-budget.js';
import { boundingBox } from '../mesh/measures.js';
import { assemblePackage, type PrintPackage } from './assemble-package.js';
import { toPrint } from './hollow.js';
import { joinModel } from './join-model.js';
import type { PrintInput, PrintInputPart, PrintJob, SolidPart } from './print-job.js';
import { type PrintRules, printRules } from './process.js';
import { PrintGivenUp } from './print-given-up.js';
import { repairPart } from './repair-part.js';
import { scaleLesion } from './scale-lesion.js';
import { shapeModel } from './shape-model.js';
import { Workshop } from './workshop.js';

/** Structures of the blood pool, which are fused. */
export const BLOOD: ReadonlySet<PrintInputPart['role']> = new Set([
  'feeder',
  'systemic-feeder',
  'sac',
  'drain',
  'branch',
  'whole',
]);
/** Structures that stay separate parts. */
const BESIDE: ReadonlySet<PrintInputPart['role']> = new Set(['airway', 'heart', 'chest-wall']);

/** Beyond this, 32-bit coordinates of an STL file are coarser than a micrometre, so the print is moved to the origin. */
const FARTHEST_MM = 1000;

/**
 * Limit on work steps of one export. The demonstration and teaching cases take up to 1.7 million (3.9 hollow), and a surface of a million
 * triangles, printed from its coarser copy, 1.6 million (5.6 hollow).
 */
const MOST_STEPS = 35_000_000;

/**
 * Makes the printable export of a lesion: every structure closed and mended, one fused model of the blood pool with a tag that states
 * case, scale and directions, vessels below the process's thinnest pin thickened, or the lumen left open inside an outer wall, and check
 * points for a caliper. Coordinates of the result are those of the print: (case coordinate - originMm) times scale.
 * Nothing is repaired, removed or thickened without a finding. Same input, same result. Throws `PrintGivenUp` if it takes more than a
 * fixed amount of work, which is counted the same on every machine.
 */
export async function preparePrint(input: PrintInput, mostSteps = MOST_STEPS): Promise<PrintPackage> {
  const work = new WorkBudget(mostSteps);
  const workshop = await Workshop.open(work);
  const job = openJob(workshop, input);
  try {
    const solids: SolidPart[] = [];
    const beside: SolidPart[] = [];
    const hasWhole = input.parts.some((p) => p.role === 'whole');
    for (const part of input.parts) {
      if (hasWhole && part.role === 'sac') continue;
      if (!BLOOD.has(part.role) && !BESIDE.has(part.role)) {
        job.findings.push(
          finding(
            'note',
            'print-part-left-out',
            part.name,
            `A ${part.role} is not printed: it would hide the lesion.`,
          ),
        );
        continue;
      }
      const isBlood = BLOOD.has(part.role);
      const mesh = toPrint(part.mesh, job.originMm, job.scale);
      const repaired = await repairPart(
        workshop,
        { name: part.name, mesh, isStop: isBlood },
        job.rules.largestHoleMm * job.scale,
      );
      job.findings.push(...repaired.findings);
      if (!repaired.body) continue;
      const solid = {
        name: part.name,
        role: part.role,
        body: repaired.body,
        fragments: repaired.fragments,
        repairs: repaired.repairs,
      };
      (isBlood ? solids : beside).push(solid);
    }
    if (solids.length === 0) {
      job.findings.push(
        finding(
          'stop',
          'print-nothing',
          'print',
          'No structure of the lesion could be made solid: nothing is printed.',
        ),
      );
      return assemblePackage(job, undefined, [], []);
    }
    work.doing = 'fusing the structures';
    const joined = joinModel(job, solids);
    work.doing = job.wallMm > 0 ? 'laying the wall about the lumen' : 'shaping the model';
    const shaped = await shapeModel(job, joined, beside);
    return await assemblePackage(job, shaped, joined.parts, beside);
  } catch (error) {
    if (error instanceof WorkSpent) throw new PrintGivenUp(error.doing, job.findings);
    throw error;
  } finally {
    workshop.close();
  }
}

function openJob(workshop: Workshop, input: PrintInput): PrintJob {
  const { print } = input;
  const rules = printRules(input.rules, print.process);
  const findings: Finding[] = [];
  if (!print.process) {
    findings.push(
      finding(
        'caution',
        'print-process-unknown',
        'print.process',
        'The case names no printing process: thin vessels were neither looked for nor thickened. Name the process, then export again.',
      ),
    );
  }
  const originMm = originOf(input.parts, print.scale);
  if (originMm.some((c) => c !== 0)) {
    findings.push(
      finding(
        'note',
        'print-moved',
        'print',
        `The surfaces lie more than ${FARTHEST_MM} mm from the origin; the print's origin is ${pointText(originMm, 0)} mm of the case.`,
      ),
    );
  }
  return {
    workshop,
    input,
    rules,
    tolerances: { rules, printScale: print.scale, ...(input.shelf && { shelf: input.shelf }) },
    scale: print.scale,
    originMm,
    lesion: scaleLesion(input.lesion, originMm, print.scale),
    wallMm: wallOf(print, rules, findings),
    findings,
  };
}

function originOf(parts: readonly PrintInputPart[], scale: number): Vec3 {
  const all = parts.map((p) => boundingBox(p.mesh));
  const min = [0, 1, 2].map((k) => Math.min(...all.map((b) => b.min[k])));
  const max = [0, 1, 2].map((k) => Math.max(...all.map((b) => b.max[k])));
  const reach = scale * Math.max(...min.map(Math.abs), ...max.map(Math.abs));
  if (!Number.isFinite(reach) || reach <= FARTHEST_MM) return [0, 0, 0];
  return [0, 1, 2].map((k) => Math.round((min[k] + max[k]) / 2)) as Vec3;
}

/** Wall of a hollow print; 0 for a solid one or if no wall is known. */
function wallOf(print: Case['print'], rules: PrintRules, findings: Finding[]): number {
  if (!print.hollow) return 0;
  const limit = rules.process?.wallMm;
  if (print.wallMm === undefined && limit === undefined) {
    findings.push(
      finding(
        'caution',
        'print-wall-unknown',
        'print.wall',
        'A hollow print needs print.wall, or print.process for its thinnest wall: the print was made solid.',
      ),
    );
    return 0;
  }
  if (print.wallMm === undefined) {
    findings.push(
      finding(
        'note',
        'print-wall-assumed',
        'print.wall',
        `No wall is given: the process's thinnest free-standing wall of ${fixed(limit!, 1)} mm was taken.`,
      ),
    );
    return limit!;
  }
  if (limit !== undefined && print.wallMm < limit) {
    findings.push(
      finding(
        'caution',
        'print-wall-thin',
        'print.wall',
        `The wall of ${fixed(print.wallMm, 2)} mm is below the ${fixed(limit, 2)} mm that the process needs free-standing: it may break.`,
      ),
    );
  }
  return print.wallMm;
}
