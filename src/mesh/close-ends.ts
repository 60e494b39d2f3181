import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import { type BoundaryLoop, isNarrow } from './boundary-loops.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from './cap.js';
import { pairEdges } from './edge-pairing.js';
import type { LoadedSurface } from './load-surface.js';
import { measure } from './measures.js';
import { loopWidths } from './mend.js';
import type { TriangleMesh } from './mesh.js';
import { shared, sharedMesh } from './shared-arrays.js';

/** A surface with its open ends closed. */
export interface ClosedSurface {
  mesh: TriangleMesh;
  /** The facing half-edge of each half-edge of the mesh. */
  twin: Int32Array;
  /** Triangles that close an open end. */
  capTriangles: number[];
  findings: Finding[];
}

export interface CloseEndsOptions {
  /** The structure's name in findings. */
  label: string;
  /** The file name shown in messages. */
  shown: string;
  /** Why an open loop is not an end of a vessel, as the end of a sentence; undefined if it is one. */
  notAnEnd?: (loop: BoundaryLoop, tubeCalibreMm: number) => string | undefined;
  /** The width up to which cracks were already closed, mm. */
  mendMm?: number;
}

/** An open loop smaller than this share of the tube's calibre is a hole in its wall. Definition of this tool. */
const LEAST_END_FRACTION = 0.5;

/** Greatest number of open ends examined; a lesion has a few, the vessels of a whole lung a few hundred. */
const MOST_ENDS = 2000;

/**
 * Closes the planar open ends of a vessel's or sac's surface; the finding `end-capped` then replaces `open-surface`. Throws InputFailure
 * (3), with the place and size of every open loop, if a loop is not a planar end: the inside of such a surface is not defined, and
 * filling a hole would invent wall.
 */
export function closeEnds(surface: LoadedSurface, options: CloseEndsOptions): ClosedSurface {
  const { mesh, topology } = surface;
  if (topology.loops.length === 0)
    return { mesh, twin: topology.twin, capTriangles: [], findings: surface.findings };
  if (topology.loops.length > MOST_ENDS)
    throw new InputFailure(
      3,
      `${options.shown} (${options.label}): the surface is open in ${topology.loops.length} places, more than the ${MOST_ENDS} that are looked at one by one. Close the surface where it was segmented.`,
    );
  const capped = capPlanarLoops(mesh, topology.loops, { planarityFraction: CAP_PLANARITY_FRACTION });
  const whyNot = new Map(capped.refused.map((r) => [r.loop, r.why]));
  const { volumeMm3, areaMm2 } = measure(capped.mesh);
  const tubeCalibreMm = (4 * Math.abs(volumeMm3)) / areaMm2;
  const reasons = topology.loops.map((loop, i) =>
    isNarrow(loop) ? 'a crack' : (whyNot.get(i) ?? options.notAnEnd?.(loop, tubeCalibreMm)),
  );
  if (reasons.some((why) => why !== undefined)) throw refusal(surface, reasons, tubeCalibreMm, options);
  const capTriangles = capped.caps.flatMap((cap) =>
    Array.from({ length: cap.to - cap.from }, (_, i) => cap.from + i),
  );
  const ends = topology.loops
    .slice(0, MOST_LISTED)
    .map((loop) => `${place(loop.centroid)} (${fixed(loop.equivalentDiameterMm, 1)} mm)`);
  const more = topology.loops.length - ends.length;
  const count = topology.loops.length;
  const findings = surface.findings.filter((f) => f.id !== 'open-surface');
  findings.push(
    finding(
      'note',
      'end-capped',
      options.label,
      `${count === 1 ? 'An open end was' : `${count} open ends were`} closed by a plane at ${ends.join(', ')}${more > 0 ? ` and ${more} more` : ''}.`,
    ),
  );
  return {
    mesh: sharedMesh(capped.mesh),
    twin: shared(pairEdges(capped.mesh).twin),
    capTriangles,
    findings,
  };
}

/** The error that names every opening that is not an end, the widest first, and what to do about it. */
function refusal(
  { mesh, topology }: LoadedSurface,
  reasons: readonly (string | undefined)[],
  tubeCalibreMm: number,
  { shown, label, mendMm }: CloseEndsOptions,
): InputFailure {
  const widths = loopWidths(mesh, topology);
  const faults = topology.loops
    .map((loop, i) => ({ loop, why: reasons[i], widthMm: widths[i] ?? loop.equivalentDiameterMm }))
    .filter(({ why }) => why !== undefined)
    .sort((a, b) => b.widthMm - a.widthMm);
  const places = faults
    .slice(0, 5)
    .map(
      ({ loop, why, widthMm }) =>
        `${place(loop.centroid, 2)}, ${fixed(widthMm, 2)} mm wide and ${fixed(loop.perimeterMm / 2, 1)} mm long: ${why}`,
    );
  const count = faults.length;
  const ends = topology.loops.length - count;
  const rest = count > 5 ? `; and ${count - 5} narrower` : '';
  const stated = mendMm === undefined ? '' : ` surfaces.mend closes cracks up to ${mendMm} mm.`;
  return new InputFailure(
    3,
    `${shown} (${label}): the surface is open in ${count === 1 ? 'a place that is' : `${count} places that are`} no planar vessel end` +
      `${ends > 0 ? `, beside ${ends === 1 ? 'one end' : `${ends} ends`}` : ''}: ${places.join('; ')}${rest}.${stated} ${cure(faults[0].widthMm, tubeCalibreMm)}`,
  );
}

/** Closing a crack wider than this share of the calibre is not offered, since that would invent wall. Definition of this tool. */
const MEND_CALIBRES = 0.25;

function cure(widestMm: number, tubeCalibreMm: number): string {
  if (widestMm > MEND_CALIBRES * tubeCalibreMm)
    return (
      `The widest is over a quarter of the calibre (${fixed(tubeCalibreMm, 1)} mm): to fill it here would invent wall. ` +
      'Fill the hole, or cut the end flat, where the surface was segmented; pavm inspect lists every opening.'
    );
  // in steps of 0.05 mm, always slightly above the width
  const mendMm = fixed(Math.ceil(widestMm * 20 + 1e-6) / 20, 2);
  return `Write "mend: ${mendMm} mm" under surfaces: cracks up to that width are closed, and each is reported.`;
}

/** For a tube: loops much narrower than the tube are holes in its wall. */
export function wallHole(loop: BoundaryLoop, tubeCalibreMm: number): string | undefined {
  return loop.equivalentDiameterMm < LEAST_END_FRACTION * tubeCalibreMm ? 'a hole in the wall' : undefined;
}

/** For a sac: an opening may be closed only if a vessel is near it. */
export function noVesselNear(vessels: readonly TriangleMesh[]): (loop: BoundaryLoop) => string | undefined {
  return (loop) => {
    const reach = Math.max(1, 0.75 * loop.equivalentDiameterMm);
    const near = vessels.some(({ positions }) => {
      for (let i = 0; i < positions.length; i += 3)
        if (distance([positions[i], positions[i + 1], positions[i + 2]], loop.centroid) <= reach) return true;
      return false;
    });
    return near ? undefined : 'no vessel of the case enters there';
  };
}

const place = (p: Vec3, digits = 1): string => `${pointText(p, digits)} mm`;

/** Greatest number of places listed in a message. */
const MOST_LISTED = 10;
