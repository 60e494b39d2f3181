import { join, relative } from 'node:path';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { fixed } from '../../foundation/number-text.js';
import type { PrintPackage } from '../../print/assemble-package.js';
import { PrintGivenUp } from '../../print/print-given-up.js';
import type { PrintDocument } from '../../report/print-gauges.js';
import { type MeasuredCase, measureCase } from '../measure/measure-case.js';
import { dicomModelFile, printFolderFiles, printPackageOf } from '../plan/print-folder.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { packageVersion } from '../version.js';
import { caseInputs } from '../output/case-inputs.js';
import { LIST_NAME } from '../output/output-list.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';

export interface PrintOptions {
  out?: string;
  root?: string;
  rules?: string;
  json?: boolean;
  /** Also write the model as a DICOM object. */
  dicom?: boolean;
  /** Written to the DICOM object only if given. */
  patientId?: string;
  patientName?: string;
  /** Frame of Reference UID of the scan, written only if given. */
  frameOfReference?: string;
}

/** `pavm print CASE`: measures one case and writes its print folder, all files or none. */
export async function run(
  args: readonly string[],
  options: PrintOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length !== 1) throw new InputFailure(2, 'print needs one CASE. Example: pavm print cases/heron');
  const forDicom = [options.patientId, options.patientName, options.frameOfReference];
  if (!options.dicom && forDicom.some((given) => given !== undefined))
    throw new InputFailure(
      2,
      'print: --patient-id, --patient-name and --frame-of-reference are only written into the DICOM object. Add --dicom, or leave them out.',
    );
  const measured = await measureCase(args[0], {
    root: options.root,
    rules: options.rules,
    headersOnly: true,
  });
  const { onDisk } = measured;
  const dir = options.out ?? join(onDisk.folder, 'print');
  const shown = options.out ?? (relative(process.cwd(), dir) || '.');
  const target: FolderTarget = { dir, shown, kind: 'print', inputs: caseInputs(onDisk, options.rules) };
  await checkFolder(target);
  const pack = await printPackageOf(measured).catch((error) => {
    if (error instanceof PrintGivenUp) return error;
    throw error;
  });
  if (pack instanceof PrintGivenUp) return sayGivenUp(pack, measured, options, terminal);
  const document = await printDocument(measured, pack);
  const files = await printFolderFiles(pack, document, measured.case.surfaces!.frame);
  if (options.dicom) {
    const { patientId, patientName, frameOfReference } = options;
    const names = { patientId, patientName };
    const object = await dicomModelFile(pack, files, measured.case, names, frameOfReference);
    if (object) files.push(object);
    else terminal.err('model.dcm was not written: there is no fused model to put into it.\n');
  }
  await writeFolder(target, files);
  const { findings } = document;
  if (options.json) {
    const json = {
      format: 'pavm-print/1',
      case: measured.case.id,
      print: pack.result,
      findings,
      files: [...files.map((f) => f.path), LIST_NAME],
    };
    terminal.out(`${JSON.stringify(json, null, 2)}\n`);
  } else terminal.out(summary(pack));
  sayFindings(findings, terminal);
  if (!terminal.quiet) terminal.err(`The print is in ${shown}: open ${join(shown, 'gauges.md')}\n`);
  return findings.some((f) => f.level === 'stop') ? EXIT.stopFinding : EXIT.done;
}

/** Writes nothing, so that an earlier print is kept, and prints the findings that explain why. */
async function sayGivenUp(
  { because, findings }: PrintGivenUp,
  measured: MeasuredCase,
  options: PrintOptions,
  terminal: Terminal,
): Promise<number> {
  const all = [...(await measured.findings()), ...findings];
  if (options.json) {
    const json = {
      format: 'pavm-print/1',
      case: measured.case.id,
      print_absent_because: because,
      findings: all,
      files: [],
    };
    terminal.out(`${JSON.stringify(json, null, 2)}\n`);
  }
  sayFindings(all, terminal);
  return EXIT.stopFinding;
}

/** The parts of a result that gauges.md needs, without computing the whole plan. */
export async function printDocument(measured: MeasuredCase, pack: PrintPackage): Promise<PrintDocument> {
  const { case: patientCase, rules } = measured;
  return {
    case: patientCase.id,
    title: patientCase.title,
    purpose: patientCase.purpose,
    scan_date: patientCase.scan.date,
    tool: { name: 'pavm-planner', version: packageVersion(), rule_set: rules.hash },
    today:
      patientCase.scan.date === undefined
        ? { from: 'unknown' }
        : { date: patientCase.scan.date, from: 'scan' },
    inputs: measured.inputs,
    findings: [...(await measured.findings()), ...pack.findings],
    cautions: [],
    proposal: measured.proposed?.result,
    print: pack.result,
  };
}

function summary(pack: PrintPackage): string {
  const { result } = pack;
  const rows = result.parts.map((p) => [
    p.file ?? p.name,
    p.watertight ? 'watertight' : 'OPEN',
    `${fixed(p.volume_ml, 2)} mL`,
    p.min_wall_mm === undefined ? 'wall not measured' : `wall ${fixed(p.min_wall_mm, 2)} mm`,
    `${p.triangles} triangles`,
  ]);
  const width = (i: number): number => Math.max(0, ...rows.map((r) => r[i].length));
  const lines = rows.map((r) =>
    r.map((cell, i) => (i < r.length - 1 ? cell.padEnd(width(i)) : cell)).join('  '),
  );
  if (result.size_mm)
    lines.push(`size ${result.size_mm.map((s) => fixed(s, 1)).join(' x ')} mm with its tag`);
  if (result.mass_g !== undefined)
    lines.push(
      `mass ${fixed(result.mass_g, 1)} g (density ${fixed(result.density_g_cm3!, 2)} g/cm3 assumed)`,
    );
  lines.push(`${result.gauges.length} check points in gauges.md`);
  return `${lines.join('\n')}\n`;
}
