import { join, relative } from 'node:path';
import type { Case } from '../../case/case.js';
import type { CaseOnDisk } from '../../case/read-case.js';
import { EXIT } from '../../foundation/failure.js';
import { fixed } from '../../foundation/number-text.js';
import { proposalMarker } from '../../report/proposal-mark.js';
import { STANDING_CAUTIONS } from '../../result/cautions.js';
import { proposalMark } from '../../result/proposal.js';
import type { Result } from '../../result/result.generated.js';
import { measureRead } from '../measure/measure-case.js';
import { caseInputs } from '../output/case-inputs.js';
import { LIST_NAME } from '../output/output-list.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';
import { resultWithoutPrint, scanDrawings } from '../plan/plan-files.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { startScanProgress } from './scan-progress.js';
import { suggestedEnds } from './suggested-ends.js';
import { surfaceFiles } from './surface-files.js';

export interface SurfaceFromScanOptions {
  out?: string;
  root?: string;
  rules?: string;
  json?: boolean;
  /** Only print further vessels that join the lesion, as lines for the case file. */
  suggest?: boolean;
}

/**
 * `pavm surface` for a case with points in a scan: makes the surface and writes it with labels, pictures and a report to `surfaces/` next
 * to the case file or in the `--out` folder. Returns 1 until a reader has confirmed it.
 */
export async function surfaceFromScan(
  onDisk: CaseOnDisk,
  options: SurfaceFromScanOptions,
  terminal: Terminal,
): Promise<number> {
  const outside = options.out;
  const dir = outside ?? join(onDisk.folder, 'surfaces');
  const shown = outside ?? (relative(process.cwd(), dir) || '.');
  const inputs = caseInputs(onDisk, options.rules);
  const target: FolderTarget = { dir, shown, kind: 'surfaces', inputs };
  if (!options.suggest) await checkFolder(target);
  const measured = await measureRead(onDisk, {
    rules: options.rules,
    startProgress: () => startScanProgress(terminal),
  });
  const result = await resultWithoutPrint(measured);
  const findings = await measured.findings();
  const code = findings.some(({ level }) => level === 'stop') ? EXIT.stopFinding : EXIT.done;
  if (options.suggest) {
    const { missed } = measured;
    if (options.json)
      terminal.out(
        `${JSON.stringify({ format: 'pavm-suggested-ends/1', case: result.case, missed: result.missed ?? [] }, null, 2)}\n`,
      );
    else terminal.out(suggestedEnds(measured.case, missed));
    sayFindings(findings, terminal);
    return code;
  }
  const marker = proposalMarker(result);
  const { scan } = await scanDrawings(measured, result, marker);
  const files = surfaceFiles(measured, result, marker, scan?.figures ?? []).map(({ path, bytes }) => ({
    path: outside === undefined ? path.replace('surfaces/', '') : path,
    bytes,
  }));
  await writeFolder(target, files);
  if (options.json) {
    const json = {
      format: 'pavm-surface/1',
      case: result.case,
      unit: 'mm',
      frame: result.frame_axes,
      proposal: result.proposal,
      missed: result.missed ?? [],
      findings,
      files: [...files.map(({ path }) => path), LIST_NAME],
      cautions: [...STANDING_CAUTIONS],
    };
    terminal.out(`${JSON.stringify(json, null, 2)}\n`);
  } else terminal.out(summary(result, measured.case));
  sayFindings(findings, terminal);
  if (!terminal.quiet) {
    const report = join(shown, ...(outside === undefined ? [] : ['surfaces']), 'report.md');
    terminal.err(`The surface is in ${shown}: open ${report}\n`);
  }
  return code;
}

/** One line for the surface and one for each vessel. */
function summary(result: Result, patientCase: Case): string {
  const { proposal, sac, vessels } = result;
  if (!proposal) return '';
  const mark = proposalMark(result);
  const size = sac ? `sac ${fixed(sac.volume_ml, 2)} mL, ` : '';
  const lines = [
    `${mark ?? `confirmed by ${proposal.confirmed_by ?? 'a reader'}`}: ${size}unsure on ${fixed(proposal.unsure_percent, 1)} % of the surface, sha256 ${proposal.surface_sha256}`,
    ...(patientCase.surfaces?.fromScan?.ends ?? []).map(({ name, role }) => {
      const vessel = Object.hasOwn(vessels, name) ? vessels[name] : undefined;
      const calibre = vessel?.landing
        ? `landing calibre ${fixed(vessel.landing.calibre_mm, 1)} mm`
        : vessel
          ? `mean calibre ${fixed(vessel.calibre_mm.mean, 1)} mm`
          : 'not measured';
      const long = vessel?.length_mm === undefined ? '' : `, ${fixed(vessel.length_mm, 1)} mm to the neck`;
      return `${name}  ${role}  ${calibre}${long}`;
    }),
  ];
  return `${lines.join('\n')}\n`;
}
