import { basename } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { YAML_LIMITS } from '../../foundation/yaml-limits.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import type { PrintPackage } from '../../print/assemble-package.js';
import { PrintGivenUp } from '../../print/print-given-up.js';
import { type PrintRules, printRules } from '../../print/process.js';
import { compareReadings } from '../../print/proof.js';
import { effectsOf, expectationsOf, overallVerdict, type Proofs } from '../../print/proofs.js';
import { parseReadings } from '../../print/readings.js';
import { proofJson } from '../../report/proof/proof-json.js';
import { proofText } from '../../report/proof/proof-text.js';
import { caseShelf } from '../input/case-shelf.js';
import { measuredMarker } from '../from-scan/measured-marker.js';
import { type MeasuredCase, measureCase } from '../measure/measure-case.js';
import { printPackageOf } from '../plan/print-folder.js';
import { readScan, type ScanSurface } from '../proof/read-scan.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { caseInputs } from '../output/case-inputs.js';
import type { OutputFile } from '../output/output-list.js';
import { checkFolder, type FolderTarget, writeFolder } from '../output/write-folder.js';

export interface ProofOptions {
  readings?: string;
  /** A scan of the print, as a mesh file. */
  surface?: string;
  /** Unit of the scan. */
  unit?: string;
  out?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/**
 * `pavm proof CASE`: caliper readings (`--readings`) or a scan (`--surface`) of a print, or of the specimen, against the model. Returns 1
 * if it is not proved.
 */
export async function run(
  args: readonly string[],
  options: ProofOptions,
  terminal: Terminal,
): Promise<number> {
  const example = 'Example: pavm proof cases/heron --readings readings.yaml';
  if (args.length !== 1) throw new InputFailure(2, `proof needs one CASE. ${example}`);
  if (options.readings === undefined && options.surface === undefined)
    throw new InputFailure(2, `proof needs --readings FILE, --surface FILE or both. ${example}`);
  if (options.unit !== undefined && options.surface === undefined)
    throw new InputFailure(2, 'proof: --unit is the unit of the scan. Give --surface FILE with it.');
  const bytes = options.readings === undefined ? undefined : readReadings(options.readings);
  const scan = options.surface === undefined ? undefined : await readScan(options.surface, options.unit);
  const measured = await measureCase(args[0], {
    root: options.root,
    rules: options.rules,
    headersOnly: true,
  });
  const target: FolderTarget | undefined =
    options.out === undefined
      ? undefined
      : {
          dir: options.out,
          kind: 'proof',
          inputs: caseInputs(measured.onDisk, options.rules, options.readings, options.surface),
        };
  if (target) await checkFolder(target);
  const pack = await printPackageOf(measured).catch((error) => {
    if (!(error instanceof PrintGivenUp)) throw error;
    throw new InputFailure(3, `${args[0]}: there is no model to prove: ${error.because}. See pavm print.`);
  });
  const rules = printRules(measured.rules, measured.case.print.process);
  const readings = bytes && heldReadings(bytes, basename(options.readings!), measured, pack, rules);
  const held = scan && (await heldSurface(scan, measured, pack, rules));
  const proofs: Proofs = { readings, surface: held };
  const shelf = await caseShelf(measured.case);
  if (shelf)
    proofs.effects = effectsOf(proofs, measured.lesion, {
      shelf,
      rules: measured.rules,
      printScale: measured.case.print.scale,
      leastMm: rules.biasLeastMm,
    });
  const verdict = overallVerdict(proofs);
  const marker = measuredMarker(measured);
  const figures = (held?.figures ?? []).map(({ path, bytes }) => ({
    path,
    bytes: marker.svg(String(bytes)),
  }));
  const text = marker.text(proofText(measured.case.id, proofs));
  const written = options.out === undefined ? [] : figures.map(({ path }) => path);
  const compared = {
    ...proofJson(measured.case.id, pack.result.model_id, proofs, written),
    ...(measured.proposed && { surface_confirmed: measured.proposed.result.confirmed }),
  };
  const json = `${JSON.stringify(compared, null, 2)}\n`;
  if (target)
    await writeFolder(target, [
      { path: 'proof.json', bytes: json },
      { path: 'proof.txt', bytes: text },
      ...figures,
    ]);
  terminal.out(options.json ? json : text);
  const findings: Finding[] = [
    ...(await measured.findings()),
    ...pack.findings,
    ...(readings?.findings ?? []),
    ...(scan?.findings ?? []),
  ];
  sayFindings(findings, terminal);
  if (!terminal.quiet && options.out !== undefined) terminal.err(`The proof is in ${options.out}\n`);
  else if (!terminal.quiet && figures.length > 0)
    terminal.err('Give --out DIR for pictures of the distances.\n');
  const isProved = verdict === 'proved' && !findings.some((f) => f.level === 'stop');
  return isProved ? EXIT.done : EXIT.stopFinding;
}

function heldReadings(
  bytes: Uint8Array,
  shown: string,
  measured: MeasuredCase,
  pack: PrintPackage,
  rules: PrintRules,
): NonNullable<Proofs['readings']> & { findings: Finding[] } {
  const { gauges, model_id: modelId, handedness: hand } = pack.result;
  const { instrument, readings, namesModel, handedness } = parseReadings(
    bytes,
    shown,
    gauges.map((g) => g.name),
    modelId,
  );
  return {
    ...(instrument !== undefined && { instrument }),
    proof: compareReadings(expectationsOf(gauges), readings, rules, measured.case.print.scale, {
      read: handedness,
      expected: hand?.turn,
    }),
    findings: namesModel
      ? []
      : [
          finding(
            'caution',
            'readings-model-unstated',
            shown,
            `The readings do not say which model they were taken from. Write the number on the print's tag${modelId === undefined ? '' : `, for this case model: ${modelId}`}.`,
          ),
        ],
  };
}

async function heldSurface(
  scan: ScanSurface,
  measured: MeasuredCase,
  pack: PrintPackage,
  rules: PrintRules,
): Promise<NonNullable<Proofs['surface']> & { figures: OutputFile[] }> {
  const [
    { proveSurface, surfaceLimits },
    { registrationRules },
    { scaleLesion },
    { proofFigures },
    { toPrint },
    { BLOOD },
  ] = await Promise.all([
    import('../../print/surface-proof.js'),
    import('../../geometry/register/registration-rules.js'),
    import('../../print/scale-lesion.js'),
    import('../../report/proof/proof-figures.js'),
    import('../../print/hollow.js'),
    import('../../print/prepare-print.js'),
  ]);
  const printScale = measured.case.print.scale;
  const originMm = pack.result.origin_mm ?? [0, 0, 0];
  const { wall_mm: wallMm } = pack.result;
  const shelf = await caseShelf(measured.case);
  const lumen = measured.structures.filter(({ role }) => role !== 'left-out' && BLOOD.has(role));
  const input = {
    parts: pack.parts,
    lesion: scaleLesion(measured.lesion, originMm, printScale),
    printScale,
    tolerances: { rules, printScale, ...(shelf && { shelf }) },
    registration: registrationRules(measured.rules),
    limits: surfaceLimits(measured.rules),
    ...(wallMm !== undefined && {
      hollow: { wallMm, lumen: lumen.map(({ mesh }) => toPrint(mesh, originMm, printScale)) },
    }),
  };
  const proof = proveSurface(input, scan.mesh);
  const { surfaces, lesion } = measured.case;
  const figures = proofFigures(input, proof, scan.mesh, surfaces!.frame, lesion.side);
  return { scan, proof, figures: figures.map(({ name, svg }) => ({ path: name, bytes: svg })) };
}

function readReadings(path: string): Uint8Array {
  refuseLinkOutside(path, EXIT.input);
  return readRegularFile(path, {
    shown: shownPath(basename(path)),
    exitCode: EXIT.input,
    mostBytes: YAML_LIMITS.bytes,
    todo: 'Give a readings file to --readings',
  });
}
