import type { Manifold } from 'manifold-3d/manifold';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { add, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import type { PrintJob, SolidPart } from './print-job.js';
import { place } from './repair-part.js';

/** The blood pool as one solid. */
export interface JoinedModel {
  solid: Manifold;
  /** Each structure as fused: without islands, with bridges. */
  parts: { name: string; role: SolidPart['role']; solid: Manifold; repairs: string[] }[];
  /** Connected bodies, the largest first; all but the first identified by a structure in them. */
  bodies: { name: string; solid: Manifold }[];
}

/**
 * Fuses the structures of the blood pool. Vessels that stop short of the structure they join are bridged, loose fragments that touch
 * nothing are removed and inner voids are filled, each with a finding. A vessel that still touches nothing is a separate body.
 */
export function joinModel(job: PrintJob, solids: readonly SolidPart[]): JoinedModel {
  const { workshop } = job;
  // One mark per body and fragment, which survives the union and identifies the sources of a loose piece.
  const marked = solids.map((part) => ({
    part,
    body: workshop.keep(part.body.asOriginal()),
    fragments: part.fragments.map((f) => workshop.keep(f.asOriginal())),
    bridges: [] as Manifold[],
  }));
  type Marked = (typeof marked)[number];
  const fuse = (): Piece[] =>
    piecesOf(job, workshop.union(marked.flatMap((m) => [m.body, ...m.fragments, ...m.bridges])));
  const holds = (piece: Piece, m: Marked): boolean => piece.marks.has(m.body.originalID());
  let pieces = fuse();
  const loose = (): Marked[] => {
    const main = mainPiece(pieces, (p) => marked.some((m) => holds(p, m)));
    return marked.filter((m) => pieces.some((p) => p !== main && holds(p, m)) && !holds(main, m));
  };
  let bridged = false;
  // With two sacs it is not known which one a loose vessel belongs to.
  const hasOneSac = solids.filter(({ role }) => role === 'sac').length < 2;
  for (const m of hasOneSac ? loose() : []) {
    const vessel = job.lesion.vessels.find((v) => v.name === m.part.name);
    const bridge = vessel && bridgeOf(job, vessel);
    if (!bridge) continue;
    m.bridges.push(workshop.keep(bridge.asOriginal()));
    bridged = true;
    const text = `${m.part.name} stops short of what it joins; a bar of its own calibre joins them at ${place(vessel.neck?.pointMm ?? vessel.centrelineMm[vessel.centrelineMm.length - 1])}.`;
    m.part.repairs.push(text);
    job.findings.push(finding('caution', 'print-part-bridged', m.part.name, text));
  }
  if (bridged) pieces = fuse();
  const isStructure = (p: Piece): boolean => marked.some((m) => holds(p, m));
  const kept = pieces.filter(isStructure);
  const total = kept.reduce((sum, p) => sum + p.volumeMm3, 0);
  const removed = new Set<number>();
  for (const island of pieces.filter((p) => !isStructure(p))) {
    for (const mark of island.marks) removed.add(mark);
    const owner = marked.find((m) => m.fragments.some((f) => island.marks.has(f.originalID())));
    const level = island.volumeMm3 > job.rules.largestIsland * total ? 'stop' : 'caution';
    const text = `A loose piece of ${fixed(island.volumeMm3, 2)} mm³ (${island.sizeMm.map((s) => fixed(s, 1)).join(' x ')} mm) at ${place(island.middle)} touches nothing and was removed.`;
    owner?.part.repairs.push(text);
    job.findings.push(finding(level, 'print-island-removed', owner?.part.name ?? 'print', text));
  }
  const nameOf = (piece: Piece): string => marked.find((m) => holds(piece, m))!.part.name;
  return {
    solid: workshop.union(kept.map((p) => p.solid)),
    bodies: kept.map((p) => ({ name: nameOf(p), solid: p.solid })),
    parts: marked.map((m) => ({
      name: m.part.name,
      role: m.part.role,
      repairs: m.part.repairs,
      solid: workshop.union([
        m.body,
        ...m.fragments.filter((f) => !removed.has(f.originalID())),
        ...m.bridges,
      ]),
    })),
  };
}

interface Piece {
  solid: Manifold;
  volumeMm3: number;
  middle: Vec3;
  sizeMm: Vec3;
  /** Original solids that contribute to this piece's surface. */
  marks: Set<number>;
}

/** Connected pieces of a solid; inner voids, which are pieces of negative volume, are filled with a finding. */
function piecesOf(job: PrintJob, solid: Manifold): Piece[] {
  const out: Piece[] = [];
  for (const piece of job.workshop.decompose(solid)) {
    const volumeMm3 = piece.volume();
    const { min, max } = piece.boundingBox();
    const middle = [0, 1, 2].map((k) => (min[k] + max[k]) / 2) as Vec3;
    if (volumeMm3 <= 0) {
      const id = 'print-cavity-filled';
      const text = `A void of ${fixed(-volumeMm3, 2)} mm³ enclosed between structures at ${place(middle)} was filled.`;
      if (!job.findings.some((f) => f.id === id && f.text === text))
        job.findings.push(finding('note', id, 'print', text));
      continue;
    }
    const mesh = piece.getMesh();
    const marks = new Set<number>();
    mesh.runOriginalID.forEach((mark, run) => {
      if (mesh.runIndex[run + 1] > mesh.runIndex[run]) marks.add(mark);
    });
    out.push({
      solid: piece,
      volumeMm3,
      middle,
      sizeMm: [0, 1, 2].map((k) => max[k] - min[k]) as Vec3,
      marks,
    });
  }
  return out.sort((a, b) => b.volumeMm3 - a.volumeMm3);
}

const mainPiece = (pieces: readonly Piece[], isStructure: (p: Piece) => boolean): Piece =>
  pieces.find(isStructure) ?? pieces[0];

/** A bar along the last calibre of a vessel and a calibre past its end. */
function bridgeOf(job: PrintJob, vessel: VesselMeasure): Manifold | undefined {
  const last = vessel.profile[vessel.profile.length - 1];
  if (!last || vessel.centrelineMm.length < 2) return undefined;
  const line = new Polyline(vessel.centrelineMm);
  const calibre = last.equivalentMm;
  const from = line.pointAt(Math.max(0, last.atMm - calibre));
  const end = vessel.neck?.pointMm ?? line.pointAt(line.lengthMm);
  const to = add(end, scale(normalize(subtract(end, from)), calibre / 2));
  return job.workshop.bar(from, to, calibre / 2);
}
