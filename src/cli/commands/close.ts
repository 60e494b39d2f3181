import type { Case } from '../../case/case.js';
import { patientFileOf } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import { quantityFlag } from '../../foundation/quantity.js';
import type { LesionMeasure } from '../../geometry/measure.js';
import { caseShunts } from '../../physiology/case-shunts.js';
import { closureTable } from '../../physiology/closure-table.js';
import type { Rules } from '../../rules/rule.js';
import { closureText } from '../terminal/closure-text.js';
import { measuredMarker } from '../from-scan/measured-marker.js';
import type { MeasuredCase } from '../measure/measure-case.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';

export interface CloseOptions {
  /** How far each named feeder is closed, `80 %`. */
  occlusion?: string;
  json?: boolean;
  root?: string;
  rules?: string;
}

/** Measures the surfaces of a case. */
export type MeasureCase = (
  path: string,
  options: { root?: string; rules?: string; headersOnly?: boolean },
) => Promise<
  Pick<MeasuredCase, 'proposed'> & {
    case: Case;
    rules: Rules;
    lesion: LesionMeasure;
    findings(): Promise<Finding[]>;
  }
>;

const EXAMPLE = 'Example: pavm close cases/heron A1';

/**
 * `pavm close`: virtual closure of the named feeders together, of the lobe, or, without names, of every useful set. Returns 1 if no set
 * has an answer or there is a stop-level finding.
 */
export async function run(
  args: readonly string[],
  options: CloseOptions,
  terminal: Terminal,
): Promise<number> {
  const [path, ...names] = args;
  const patient = path === undefined ? undefined : await patientFileOf(path);
  if (patient !== undefined) {
    const { closePatient } = await import('../patient/close-patient.js');
    return closePatient(patient, names, occlusionOf(options.occlusion), options, terminal);
  }
  const { measureCase } = await import('../measure/measure-case.js');
  return closeCase(args, options, terminal, measureCase);
}

/** The command with the measuring function as a parameter. */
export async function closeCase(
  args: readonly string[],
  options: CloseOptions,
  terminal: Terminal,
  measureCase: MeasureCase,
): Promise<number> {
  const [path, ...names] = args;
  if (path === undefined) throw new InputFailure(2, `close needs a CASE. ${EXAMPLE}`);
  const occlusion = occlusionOf(options.occlusion);
  const measured = await measureCase(path, { root: options.root, rules: options.rules, headersOnly: true });
  const { vessels } = measured.lesion;
  const sets = names.length === 0 ? undefined : [setOf(names, vessels)];
  const shunts = caseShunts(measured.case, measured.rules);
  const { headline } = shunts;
  const given = {
    vessels,
    shunt: shunts.closureShunt,
    draws: headline.draws,
    case: measured.case,
    rules: measured.rules,
  };
  const closure = closureTable({ ...given, occlusion, sets });
  if (options.json) {
    terminal.out(`${JSON.stringify(closure.rows, null, 2)}\n`);
  } else {
    // Nothing closed: computed with the same model as the rows, so that before and after can be compared.
    const [now] = closureTable({ ...given, sets: [[]] }).rows;
    terminal.out(measuredMarker(measured).text(closureText(shunts.closureShunt, now, closure)));
  }
  const findings = [...(await measured.findings()), ...shunts.findings, ...closure.findings];
  sayFindings(findings, terminal);
  const answered = closure.rows.some((row) => row.shunt_fraction !== undefined);
  return answered && findings.every((f) => f.level !== 'stop') ? EXIT.done : EXIT.stopFinding;
}

function occlusionOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const value = quantityFlag('--occlusion', text, 'fraction', 'fraction');
  if (!(value > 0 && value <= 1)) {
    throw new InputFailure(2, `--occlusion: "${text}" must be above 0 and up to 100 %.`);
  }
  return value;
}

function setOf(names: readonly string[], vessels: LesionMeasure['vessels']): string[] | 'lobe' {
  const feeders = vessels.filter((v) => v.role === 'feeder').map((v) => v.name);
  if (names.includes('lobe')) {
    if (names.length > 1)
      throw new InputFailure(2, 'close takes feeders or "lobe", not both: the lobe closes every feeder.');
    return 'lobe';
  }
  for (const name of names) {
    if (feeders.includes(name)) continue;
    const other = vessels.find((v) => v.name === name);
    const what = other
      ? `${name} is a ${other.role}, not a feeder: closing it is not worked out.`
      : `${name} is not a vessel of this case.`;
    throw new InputFailure(2, `${what} Feeders here: ${feeders.join(', ') || 'none'}; or write "lobe".`);
  }
  return feeders.filter((feeder) => names.includes(feeder));
}
