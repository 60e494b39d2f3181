import { basename } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { type Finding, finding } from '../../foundation/finding.js';
import type { ScanOfPrint } from '../../print/proofs.js';
import { unitFlagMm } from '../input/mesh-unit.js';

/** A surface from outside the case, in mm. */
export interface ScanSurface extends ScanOfPrint {
  findings: Finding[];
}

/**
 * Reads the surface of a scanned print. Its unit is that of `--unit`, else that stated in the file, else mm with a finding. Throws
 * InputFailure: 2 for the flag, 3 for the file.
 */
export async function readScan(path: string, unitFlag: string | undefined): Promise<ScanSurface> {
  const asked = unitFlagMm('proof', unitFlag);
  const [{ prepareSurface, unitName }, { readMeshFile }] = await Promise.all([
    import('../../mesh/load-surface.js'),
    import('../../mesh/read/read-mesh-file.js'),
  ]);
  const shown = shownPath(basename(path));
  const file = await readMeshFile(path, { shown });
  const unitMm = asked ?? file.unitMm ?? 1;
  const used = unitName(unitMm);
  const from = asked !== undefined ? 'flag' : file.unitMm !== undefined ? 'file' : 'assumed';
  const findings: Finding[] = [];
  if (from === 'assumed')
    findings.push(
      finding(
        'note',
        'scan-unit-assumed',
        shown,
        'The file states no unit: mm was taken. Write --unit to be sure.',
      ),
    );
  if (asked !== undefined && file.unitMm !== undefined && Math.abs(asked - file.unitMm) > 1e-9 * asked)
    findings.push(
      finding(
        'caution',
        'scan-unit-disagrees',
        shown,
        `The file states ${unitName(file.unitMm)}, --unit ${used}: that of --unit was used. Find out which is right.`,
      ),
    );
  const surface = prepareSurface(
    { ...file, unitMm },
    { unitMm, label: shown, shown, checkSelfIntersection: false },
  );
  return { shown, mesh: surface.mesh, unit: { used, from }, findings: [...findings, ...surface.findings] };
}
