import { type Finding, finding } from '../foundation/finding.js';
import type { Structure } from './structure.js';

/** Larger surfaces are drawn and printed from a coarser copy; they were measured as they are. */
const MOST_SHOWN_TRIANGLES = 150_000;
/** Finer than a layer or dot of the printing processes in the rules, and than a pixel of the figures, mm. */
const SHOWN_EDGE_MM = 0.25;

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
    const coarse = { ...part, mesh: coarsened(part.mesh, SHOWN_EDGE_MM) };
    const text = `It is drawn and printed from a copy with edges of about ${SHOWN_EDGE_MM} mm (${count(coarse)} of ${count(part)} triangles). Everything was measured on the surface itself.`;
    findings.push(finding('note', 'drawn-coarser', part.name, text));
    return coarse;
  });
  return { structures: shown, findings };
}
