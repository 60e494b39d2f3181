import { join, relative } from 'node:path';
import { stringify } from 'yaml';
import type { Case, LabelPart } from '../../case/case.js';
import { readCase } from '../../case/read-case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { fixed } from '../../foundation/number-text.js';
import { measure } from '../../mesh/measures.js';
import { withoutSmallPieces } from '../../mesh/pieces.js';
import { writeStl } from '../../mesh/write-stl.js';
import { fileNames } from '../../print/print-result.js';
import { STANDING_CAUTIONS } from '../../result/cautions.js';
import { labelledParts } from '../measure/labelled-parts.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { caseInputs } from '../output/case-inputs.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';

export interface SurfaceOptions {
  out?: string;
  root?: string;
  rules?: string;
  json?: boolean;
  suggest?: boolean;
}

/**
 * `pavm surface CASE`: a surface of the lesion from the points of a case in its scan, or the structures of its label map as closed
 * surfaces, one STL each; all files or none.
 */
export async function run(
  args: readonly string[],
  options: SurfaceOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length !== 1)
    throw new InputFailure(2, 'surface needs one CASE. Example: pavm surface my-case --out my-case/surfaces');
  const onDisk = await readCase(args[0], { root: options.root });
  const { labels, fromScan } = onDisk.case.surfaces ?? {};
  if (fromScan) {
    const { surfaceFromScan } = await import('../from-scan/surface-from-scan.js');
    return surfaceFromScan(onDisk, options, terminal);
  }
  if (options.suggest)
    throw new InputFailure(
      2,
      'surface --suggest: it looks for vessels that join a surface made from the scan. The case gives its surfaces; pavm plan lists such vessels as findings.',
    );
  if (!labels)
    throw new InputFailure(
      2,
      `${onDisk.case.locate(onDisk.case.surfaces ? 'surfaces' : '')} surface: the case names neither points in a scan nor a label map. Write surfaces.from_scan, or segment the CT and write surfaces.labels.`,
    );
  const dir = options.out ?? join(onDisk.folder, 'surfaces');
  const shown = options.out ?? (relative(process.cwd(), dir) || '.');
  const target: FolderTarget = { dir, shown, kind: 'surfaces', inputs: caseInputs(onDisk) };
  await checkFolder(target);
  const labelled = await labelledParts(onDisk.case);
  const { dropBelowMm3 } = onDisk.case.surfaces!;
  const parts = labelled.parts.map(({ part, surface }) => ({
    part,
    surface: dropBelowMm3 === undefined ? surface : withoutSmallPieces(surface, part.name, dropBelowMm3),
  }));
  const names = fileNames(parts.map(({ part }) => part));
  const { frame } = labelled.case.surfaces!;
  const rows = parts.map(({ part, surface }, i) => ({
    name: part.name,
    role: part.role,
    file: names[i],
    triangles: surface.mesh.triangles.length / 3,
    volume_ml: Number(fixed(measure(surface.mesh).volumeMm3 / 1000, 3)),
  }));
  const findings = labelled.amended(onDisk.findings).concat(parts.flatMap((p) => p.surface.findings));
  const files = parts.map(({ part, surface }, i) => ({
    path: names[i],
    bytes: writeStl(surface.mesh, `${onDisk.case.id} ${part.name}`),
  }));
  const text = partsText(labels.parts, names, frame);
  await writeFolder(target, [...files, { path: LIST, bytes: text }]);
  if (options.json) {
    const json = {
      format: 'pavm-surfaces/1',
      case: onDisk.case.id,
      unit: 'mm',
      frame,
      surfaces: rows,
      findings,
    };
    terminal.out(`${JSON.stringify(json, null, 2)}\n`);
  } else {
    for (const row of rows)
      terminal.out(`${row.file}  ${row.role}  ${row.triangles} triangles  ${fixed(row.volume_ml, 2)} mL\n`);
  }
  sayFindings(findings, terminal);
  if (!terminal.quiet)
    terminal.err(`The surfaces are in ${shown}; ${LIST} lists them as a case file names them.\n`);
  return findings.some((f) => f.level === 'stop') ? EXIT.stopFinding : EXIT.done;
}

/** The part of a case file that names the surfaces. */
const LIST = 'surfaces.yaml';

/** The `surfaces` of a case file that names the files. */
function partsText(
  parts: readonly LabelPart[],
  names: readonly string[],
  frame: NonNullable<Case['surfaces']>['frame'],
): string {
  const list = parts.map(({ name, role, of, spare, supplies, arisesFrom }, i) => ({
    name,
    role,
    ...(of !== undefined && role === 'branch' && { of }),
    mesh: names[i],
    ...(spare && { spare: 'yes' }),
    ...(supplies !== undefined && { supplies }),
    ...(arisesFrom !== undefined && { arises_from: arisesFrom }),
  }));
  const cautions = STANDING_CAUTIONS.map((caution) => `# ${caution}\n`).join('');
  return `# Surfaces of a label map, for a case file; the paths are relative to this folder.\n${cautions}${stringify({ surfaces: { unit: 'mm', frame, parts: list } })}`;
}
