import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { type LocatedYaml, parseLocatedYaml } from '../foundation/located-yaml.js';
import { formatWords, refuseForeign } from '../foundation/own-format.js';
import { buildCase, type InputAt, inputFinder } from './build-case.js';
import type { Case, InputPath } from './case.js';
import {
  checkExpected,
  checkGases,
  checkInspiredText,
  checkLesion,
  checkPatient,
  inspiredFraction,
} from './check-patient.js';
import { checkPrint } from './check-print.js';
import { checkRanges } from './check-ranges.js';
import { checkStructure } from './check-structure.js';
import { checkSurfaces } from './check-surfaces.js';
import { checkSurgery, checkTeam } from './check-treatment.js';
import type { InputKind } from './confined-path.js';
import { FileReader } from './file-reader.js';
import type { FileKind } from './file-schema.js';
import { CASE_RANGES } from './plausible-ranges.js';
import { fieldsNotUsed } from './not-used-yet.js';
import { Problems } from './problems.js';
import { readAnnotations } from './read-annotations.js';

export interface ParsedCase {
  case: Case;
  /** In the order of the checks; none of level stop. */
  findings: Finding[];
}

export interface ParseOptions {
  /** Absolute folder that paths in the file are relative to; without it `absolute` is as written. Nothing is opened. */
  folder?: string;
  /** File name in `Case.locate`, if it differs from that in error messages. */
  locateName?: string;
}

/** An input that a case names, before it is looked up. */
export interface NamedInput {
  /** Path in the case file, for example `surfaces.parts[0].mesh`. */
  path: string;
  kind: InputKind;
  role: 'mesh' | 'labels' | 'series' | 'shelf';
  input: InputPath;
}

/** A case file with all faults in its text. */
export interface ExaminedCase {
  problems: Problems;
  /** In the order of the checks. */
  findings: Finding[];
  /** Undefined if there is a problem. */
  case?: Case;
  /** The case without its surfaces, if gases, blood, circulation and patient have no problems. */
  withoutSurfaces?: Case;
  /** Every input that is named without a problem, in file order. */
  inputs: NamedInput[];
}

/** The data by which the blood gases are judged. */
const GAS_BLOCKS = ['gases', 'blood', 'circulation', 'patient'];

/**
 * Parses the text of a case file to a checked Case. Pure: no file is opened and no path is looked up. Throws InputFailure (exit code 2)
 * with every problem of the file, in file order, `FILE:LINE:COLUMN PATH: text`.
 */
export async function parseCase(
  text: string,
  fileName: string,
  options: ParseOptions = {},
): Promise<ParsedCase> {
  const examined = await examineCase(text, fileName, options);
  examined.problems.throwIfAny();
  return { case: examined.case as Case, findings: examined.findings };
}

/** As `parseCase`, but returns the problems instead of throwing them. Still throws if the text is not YAML or is of another format. */
export async function examineCase(
  text: string,
  fileName: string,
  options: ParseOptions = {},
): Promise<ExaminedCase> {
  refuseForeign(text, fileName, { what: 'pavm case file', format: 'pavm-case/1', exitCode: 2 });
  const yaml = parseLocatedYaml(text, fileName, { exitCode: 2, keepSlips: true });
  requireFormat(yaml, 'case', 2);
  const problems = new Problems(yaml, fileName, 2);
  await checkStructure(yaml, 'case', problems);
  const quantities = readAnnotations(yaml, 'case', problems);
  const reader = new FileReader(yaml, quantities, problems);
  const findings: Finding[] = [];
  checkInspiredText(reader, problems);
  checkRanges(reader, CASE_RANGES, problems, (path) =>
    path.endsWith('.fio2') ? inspiredFraction(reader, path.slice(0, -'.fio2'.length)) : undefined,
  );
  if (!reader.has('purpose')) {
    findings.push(
      finding('note', 'purpose-assumed', 'purpose', 'No purpose is given; the case is taken as clinical.'),
    );
  }
  checkGases(reader, problems, findings);
  checkLesion(reader, problems, findings);
  checkPatient(reader, findings);
  checkSurfaces(reader, problems, findings);
  checkSurgery(reader, problems);
  checkTeam(reader, problems);
  checkPrint(reader, problems);
  checkExpected(reader, problems);
  fieldsNotUsed(reader, findings);
  const name = options.locateName ?? fileName;
  const locate = (path: string): string => {
    const { line, col } = yaml.position(path);
    return `${name}:${line}:${col}`;
  };
  const inputAt = inputFinder(reader, options.folder ?? '');
  const gasesAreRight = !GAS_BLOCKS.some((block) => problems.under(block));
  return {
    problems,
    findings,
    ...(problems.isEmpty && { case: buildCase(reader, inputAt, locate) }),
    ...(gasesAreRight && { withoutSurfaces: buildCase(reader, inputAt, locate, { surfaces: false }) }),
    inputs: namedInputs(reader, inputAt),
  };
}

function namedInputs(reader: FileReader, inputAt: InputAt): NamedInput[] {
  const named = (path: string, kind: InputKind, role: NamedInput['role']): NamedInput[] => {
    const input = inputAt(path);
    return input === undefined ? [] : [{ path, kind, role, input }];
  };
  return [
    ...named('scan.series', 'series', 'series'),
    ...reader.items('surfaces.parts').flatMap((part) => named(`${part}.mesh`, 'mesh', 'mesh')),
    ...named('surfaces.whole.mesh', 'mesh', 'mesh'),
    ...named('surfaces.labels.file', 'file', 'labels'),
    ...named('shelf', 'file', 'shelf'),
  ];
}

/** Throws InputFailure unless the file is a mapping that names the wanted format: a single line is then enough, instead of one per key. */
export function requireFormat(yaml: LocatedYaml, name: FileKind, exitCode: 2 | 3): void {
  const wanted = `pavm-${name}/1`;
  const { value } = yaml;
  if (value === null || typeof value !== 'object' || Array.isArray(value)) {
    throw new InputFailure(
      exitCode,
      `${yaml.locate('')} the file contains no keys. A ${name} file starts with "format: ${wanted}".`,
    );
  }
  const format = yaml.get('format');
  if (format === wanted) return;
  throw new InputFailure(
    exitCode,
    `${yaml.locate('format')} format: ${formatWords(yaml.source('format'))} is not a ${name} file of this edition. Write "format: ${wanted}".`,
  );
}
