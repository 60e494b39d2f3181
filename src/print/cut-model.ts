import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { scale } from '../foundation/vector.js';
import type { CutPlane } from './cut-plane.js';
import { joinHalves, type Peg } from './joint.js';
import type { PrintJob } from './print-job.js';
import { place } from './repair-part.js';
import { splitAt } from './split-model.js';

/** A model in two halves that fit together. */
export interface CutModel {
  plane: CutPlane;
  /** Half A and half B. */
  halves: [Manifold, Manifold];
  pegs: Peg[];
  /** Lugs on the outside of a hollow model, which hold pegs and are not anatomy. */
  lugs: number;
}

/** Loose fragments left by a cut are removed below this volume, mm³. */
const SHAVING_MM3 = 1;
/** Halves that overlap by more than this while being pulled apart are caught on each other, mm³. */
const CAUGHT_MM3 = 0.05;

/** Cuts the finished model and gives the halves pegs and sockets; undefined if the plane does not divide it. */
export function cutInHalves(
  job: PrintJob,
  solid: Manifold,
  plane: CutPlane,
  lugs: number,
): CutModel | undefined {
  const { workshop } = job;
  const split = splitAt(job, solid, plane);
  if (!split) return undefined;
  const { halves: joined, pegs } = joinHalves(job, solid, split, plane);
  const halves = joined.map((half, i) => withoutBits(job, half, `half-${'AB'[i]}`)) as [Manifold, Manifold];
  sayCut(job, plane, pegs, lugs);
  const travelMm = Math.max(1, ...pegs.map((p) => p.lengthMm));
  const isCaught = [0.5, 1.05].some((part) => {
    const away = workshop.keep(halves[1].translate(scale(plane.normal, -part * travelMm)));
    return workshop.intersection(halves[0], away).volume() > CAUGHT_MM3;
  });
  if (isCaught)
    job.findings.push(
      finding(
        'caution',
        'print-cut-caught',
        'print.cut',
        'Pulled straight apart, the halves collide: they may not separate without force. Cut at another place.',
      ),
    );
  return { plane, halves, pegs, lugs };
}

function sayCut(job: PrintJob, plane: CutPlane, pegs: readonly Peg[], lugs: number): void {
  const { peg } = job.rules;
  const joint =
    pegs.length === 0
      ? 'There are no pegs.'
      : `${pegs.length} ${pegs.length === 1 ? 'peg' : 'pegs'} of ${[...new Set(pegs.map((p) => fixed(p.diameterMm, 1)))].join(' and ')} mm with ${fixed(peg.fitMm, 2)} mm about ${pegs.length === 1 ? 'it' : 'them'}, flat on one side, so that the halves go together one way only.`;
  job.findings.push(
    finding(
      'note',
      'print-cut',
      'print.cut',
      `The model was cut at ${place(plane.point)} of the print into half A (${plane.sides[0]}) and half B (${plane.sides[1]}). ${joint}${lugs > 0 ? ` ${lugs} ${lugs === 1 ? 'lug' : 'lugs'} on the outside, which ${lugs === 1 ? 'is' : 'are'} not anatomy, ${lugs === 1 ? 'holds one of them' : 'hold them'}.` : ''} model.stl stays uncut.`,
    ),
  );
}

/** A half without loose fragments; more than one piece gives a finding. */
function withoutBits(job: PrintJob, half: Manifold, name: string): Manifold {
  const pieces = job.workshop.decompose(half);
  // A closed lumen is a piece of negative volume and belongs to the half.
  const kept = pieces.filter((p) => p.volume() < 0 || p.volume() >= SHAVING_MM3);
  const solids = kept.filter((p) => p.volume() > 0).length;
  if (solids > 1)
    job.findings.push(
      finding(
        'caution',
        'print-cut-pieces',
        name,
        `It comes in ${solids} pieces, since the cut meets the model in several places. Print them together, or cut elsewhere.`,
      ),
    );
  if (kept.length === pieces.length || kept.length === 0) return half;
  const lost = pieces.filter((p) => !kept.includes(p));
  job.findings.push(
    finding(
      'note',
      'print-island-removed',
      name,
      `${lost.length} ${lost.length === 1 ? 'shaving' : 'shavings'} of ${fixed(
        lost.reduce((sum, p) => sum + p.volume(), 0),
        3,
      )} mm³ in all that the cut left were removed.`,
    ),
  );
  return job.workshop.keep(job.workshop.kernel.Manifold.compose(kept));
}
