import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import type { BoundaryLoop } from './boundary-loops.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from './cap.js';
import { pairEdges } from './edge-pairing.js';
import type { LoadedSurface } from './load-surface.js';
import { measure } from './measures.js';
import type { TriangleMesh } from './mesh.js';

/** A surface whose open ends are closed. */
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
  /** The file as messages show it. */
  shown: string;
  /** Says why an open loop is no end of a vessel, as the end of a sentence; undefined where it is one. */
  notAnEnd?: (loop: BoundaryLoop, tubeCalibreMm: number) => string | undefined;
}

/** An open loop smaller than this part of the tube's own calibre is a hole in its wall. Definition of this tool. */
const LEAST_END_FRACTION = 0.5;

/**
 * Closes the planar open ends of a vessel's or sac's surface; the finding `open-surface` then gives way to `end-capped`.
 * Throws InputFailure (3), with every open loop's place and size, where a loop is no planar end: the inside of
 * such a surface is not defined, and filling a hole would invent wall.
 */
export function closeEnds(surface: LoadedSurface, options: CloseEndsOptions): ClosedSurface {
  const { mesh, topology } = surface;
  if (topology.loops.length === 0)
    return { mesh, twin: topology.twin, capTriangles: [], findings: surface.findings };
  const capped = capPlanarLoops(mesh, topology.loops, { planarityFraction: CAP_PLANARITY_FRACTION });
  const whyNot = new Map(capped.refused.map((r) => [r.loop, r.why]));
  const { volumeMm3, areaMm2 } = measure(capped.mesh);
  const tubeCalibreMm = (4 * Math.abs(volumeMm3)) / areaMm2;
  const faults = topology.loops.flatMap((loop, i) => {
    const why = whyNot.get(i) ?? options.notAnEnd?.(loop, tubeCalibreMm);
    return why === undefined
      ? []
      : [`${place(loop.centroid)}, ${fixed(loop.equivalentDiameterMm, 1)} mm across: ${why}`];
  });
  if (faults.length > 0) {
    const shown = faults.slice(0, 5).join('; ');
    throw new InputFailure(
      3,
      `${options.shown} (${options.label}): the surface is open in ${faults.length === 1 ? 'a place that is' : `${faults.length} places that are`} no planar vessel end: ` +
        `${shown}${faults.length > 5 ? '; and more' : ''}. Close the surface where it was segmented; pavm inspect lists every open end.`,
    );
  }
  const capTriangles = capped.caps.flatMap((cap) =>
    Array.from({ length: cap.to - cap.from }, (_, i) => cap.from + i),
  );
  const ends = topology.loops.map(
    (loop) => `${place(loop.centroid)} (${fixed(loop.equivalentDiameterMm, 1)} mm)`,
  );
  const findings = surface.findings.filter((f) => f.id !== 'open-surface');
  findings.push(
    finding(
      'note',
      'end-capped',
      options.label,
      `${ends.length === 1 ? 'An open end was' : `${ends.length} open ends were`} closed by a plane at ${ends.join(', ')}.`,
    ),
  );
  return { mesh: capped.mesh, twin: pairEdges(capped.mesh).twin, capTriangles, findings };
}

/** For a tube: loops much narrower than the tube are holes in its wall. */
export function wallHole(loop: BoundaryLoop, tubeCalibreMm: number): string | undefined {
  return loop.equivalentDiameterMm < LEAST_END_FRACTION * tubeCalibreMm ? 'a hole in the wall' : undefined;
}

/** For a sac: only where a vessel comes near the opening may it be closed. `vesselPoints` are vertices of the vessels. */
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

const place = (p: Vec3): string => `[${p.map((c) => fixed(c, 1)).join(', ')}] mm`;
