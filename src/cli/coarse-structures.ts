import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { measure } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Structure } from './structure.js';

/** Larger surfaces are drawn and printed from a coarser copy; they were measured as they are. */
const MOST_SHOWN_TRIANGLES = 60_000;
/** Triangles the copy aims at. */
const SHOWN_TRIANGLES = 40_000;
/**
 * Bounds of the copy's edges, mm. An edge e on a vessel of radius r strays by e²/8r: at most 0.04 mm at a calibre of
 * 1.5 mm, finer than a layer or dot of the printing processes in the rules and than a pixel of the figures.
 */
const SHOWN_EDGE_MM = [0.25, 0.5] as const;

/** Edge of `SHOWN_TRIANGLES` equilateral triangles that cover the surface, within the bounds. */
function shownEdgeMm(mesh: TriangleMesh): number {
  const even = Math.sqrt(measure(mesh).areaMm2 / (SHOWN_TRIANGLES * (Math.sqrt(3) / 4)));
  return Math.min(SHOWN_EDGE_MM[1], Math.max(SHOWN_EDGE_MM[0], even));
}

/** The structures as pictures, page and print take them, with a note for each that was coarsened. */
export async function coarseStructures(
  structures: readonly Structure[],
): Promise<{ structures: Structure[]; findings: Finding[] }> {
  const count = ({ mesh }: Structure): number => mesh.triangles.length / 3;
  if (!structures.some((part) => count(part) > MOST_SHOWN_TRIANGLES))
    return { structures: [...structures], findings: [] };
  const { coarsened } = await import('../mesh/coarsen.js');
  const findings: Finding[] = [];
  const shown = structures.map((part) => {
    if (count(part) <= MOST_SHOWN_TRIANGLES) return part;
    const edgeMm = shownEdgeMm(part.mesh);
    const { twin, ...rest } = part;
    const coarse = { ...rest, mesh: coarsened(part.mesh, edgeMm, twin) };
    const text = `It is drawn and printed from a copy with edges of about ${fixed(edgeMm, 2)} mm (${count(coarse)} of ${count(part)} triangles). Everything was measured on the surface itself.`;
    findings.push(finding('note', 'drawn-coarser', part.name, text));
    return coarse;
  });
  return { structures: shown, findings };
}
