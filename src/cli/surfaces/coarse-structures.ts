import { type Finding, finding } from '../../foundation/finding.js';
import { fixed } from '../../foundation/number-text.js';
import { isShownCoarser } from '../../mesh/coarse-copy.js';
import type { SideWork } from './side-work.js';
import type { Structure } from '../../geometry/structure.js';

/** The structures for pictures, page and print, with a note for each that was coarsened. */
export async function coarseStructures(
  structures: readonly Structure[],
  side: SideWork,
): Promise<{ structures: Structure[]; findings: Finding[] }> {
  const count = ({ mesh }: Structure): number => mesh.triangles.length / 3;
  const findings: Finding[] = [];
  const shown: Structure[] = [];
  for (const part of structures) {
    if (!isShownCoarser(part.mesh)) {
      shown.push(part);
      continue;
    }
    const { twin, ...rest } = part;
    const { mesh, edgeMm } = await side.coarseCopy(part.mesh, twin);
    const coarse = { ...rest, mesh };
    const text = `It is drawn and printed from a copy with edges of about ${fixed(edgeMm, 2)} mm (${count(coarse)} of ${count(part)} triangles). Everything was measured on the surface itself.`;
    findings.push(finding('note', 'drawn-coarser', part.name, text));
    shown.push(coarse);
  }
  return { structures: shown, findings };
}
