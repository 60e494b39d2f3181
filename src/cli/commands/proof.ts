import { readFile, stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { YAML_LIMITS } from '../../foundation/located-yaml.js';
import { rounded } from '../../foundation/number-text.js';
import { printRules } from '../../print/process.js';
import { compareReadings, type Proof } from '../../print/proof.js';
import { parseReadings, type Readings } from '../../print/readings.js';
import { sourceText } from '../../rules/source-text.js';
import { measureCase } from '../measure-case.js';
import { printPackageOf } from '../print-folder.js';
import { proofText } from '../proof-text.js';
import { sayFindings } from '../say-findings.js';
import type { Terminal } from '../terminal.js';

export interface ProofOptions {
  readings?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/** `pavm proof CASE --readings FILE`: caliper readings of a print, or of the specimen, against the model. 1 where it is not proved. */
export async function run(
  args: readonly string[],
  options: ProofOptions,
  terminal: Terminal,
): Promise<number> {
  const example = 'Example: pavm proof cases/heron --readings readings.yaml';
  if (args.length !== 1) throw new InputFailure(2, `proof needs one CASE. ${example}`);
  if (options.readings === undefined) throw new InputFailure(2, `proof needs --readings FILE. ${example}`);
  const bytes = await readReadings(options.readings);
  const measured = await measureCase(args[0], { root: options.root, rules: options.rules });
  const pack = await printPackageOf(measured);
  const { gauges } = pack.result;
  const readings = parseReadings(
    bytes,
    basename(options.readings),
    gauges.map((g) => g.name),
  );
  const rules = printRules(measured.rules, measured.case.print.process);
  const expectations = gauges.map((g) => ({
    name: g.name,
    expectedMm: g.expected_mm,
    toleranceMm: g.tolerance_mm,
  }));
  const proof = compareReadings(expectations, readings.readings, rules, measured.case.print.scale);
  terminal.out(
    options.json
      ? `${JSON.stringify(proofJson(measured.case.id, readings, proof), null, 2)}\n`
      : proofText(measured.case.id, readings.instrument, proof),
  );
  const findings = [...measured.findings, ...pack.findings];
  sayFindings(findings, terminal);
  const isProved = proof.verdict === 'pass' && !findings.some((f) => f.level === 'stop');
  return isProved ? EXIT.done : EXIT.stopFinding;
}

async function readReadings(path: string): Promise<Uint8Array> {
  const shown = basename(path);
  try {
    const facts = await stat(path);
    if (!facts.isFile())
      throw new InputFailure(3, `${shown}: this is no file. Give a readings file to --readings.`);
    if (facts.size > YAML_LIMITS.bytes)
      throw new InputFailure(
        3,
        `${shown}: the file has ${facts.size} bytes; at most ${YAML_LIMITS.bytes} are read.`,
      );
    return await readFile(path);
  } catch (error) {
    if (error instanceof InputFailure || !(error instanceof Error) || !('code' in error)) throw error;
    const missing = error.code === 'ENOENT' || error.code === 'ENOTDIR';
    throw new InputFailure(
      3,
      `${shown}: ${missing ? 'there is no such file' : `it cannot be read (${String(error.code)})`}. Give a readings file to --readings.`,
    );
  }
}

function proofJson(id: string, readings: Readings, proof: Proof): Record<string, unknown> {
  const { scale, worst } = proof;
  return {
    format: 'pavm-proof/1',
    case: id,
    verdict: proof.verdict,
    because: proof.because,
    ...(readings.instrument !== undefined && { instrument: readings.instrument }),
    readings: proof.rows.map((r) => ({
      name: r.name,
      expected_mm: rounded(r.expectedMm, 3),
      reading_mm: rounded(r.readingMm, 3),
      difference_mm: rounded(r.differenceMm, 3),
      tolerance_mm: r.toleranceMm,
      within: r.isWithin,
    })),
    not_read: proof.notRead,
    ...(proof.biasMm !== undefined && { bias_mm: rounded(proof.biasMm, 3) }),
    ...(proof.limitsOfAgreementMm && {
      limits_of_agreement_mm: proof.limitsOfAgreementMm.map((l) => rounded(l, 3)),
    }),
    ...(worst && { worst: { name: worst.name, difference_mm: rounded(worst.differenceMm, 3) } }),
    ...(scale && {
      scale_factor: rounded(scale.factor, 5),
      scale_interval: scale.interval.map((f) => rounded(f, 5)),
      scale_error: scale.isError,
      scale_error_percent: rounded(100 * (scale.factor - 1), 3),
    }),
    ...(proof.slip && { slip: proof.slip }),
    ...(proof.outlier && { outlier: proof.outlier }),
    source: `Limits of agreement: ${sourceText('bland-altman-1986')}`,
  };
}
