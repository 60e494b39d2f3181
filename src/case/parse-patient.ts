import type { Finding } from '../foundation/finding.js';
import { finding } from '../foundation/finding.js';
import { parseLocatedYaml } from '../foundation/located-yaml.js';
import { refuseForeign } from '../foundation/own-format.js';
import { parseQuantity } from '../foundation/quantity.js';
import { quoted } from '../foundation/quoted-text.js';
import { buildCase, inputFinder } from './build-case.js';
import type { Case, InputPath } from './case.js';
import {
  checkExpected,
  checkGases,
  checkInspiredText,
  checkPatient,
  inspiredFraction,
} from './check-patient.js';
import { checkRanges } from './check-ranges.js';
import { checkStructure } from './check-structure.js';
import { checkTeam } from './check-treatment.js';
import { FileReader } from './file-reader.js';
import { type ParseOptions, requireFormat } from './parse-case.js';
import { CASE_RANGES } from './plausible-ranges.js';
import { Problems } from './problems.js';
import { readAnnotations } from './read-annotations.js';

/** Shunt through lesions outside the surfaces: none, unknown, or a share of the shunt above the physiological one. */
export type Remainder = 'none' | 'unknown' | number;

/** One lesion as named in the patient file. */
export interface NamedLesion {
  id: string;
  file: InputPath;
  /** Its place in the patient file, for messages. */
  path: string;
}

/** A patient file: the patient's blocks, without surfaces or a lesion, and the lesions by name. */
export interface PatientFile {
  /** Patient, blood, gases, circulation, shelf, planned, team and key; everything else is empty. */
  shared: Case;
  lesions: NamedLesion[];
  remainder: Remainder;
}

export interface ExaminedPatient {
  problems: Problems;
  findings: Finding[];
  /** Undefined if there is a problem. */
  patient?: PatientFile;
}

/**
 * Parses the text of a patient file to a checked PatientFile. Pure: no file is opened. Throws InputFailure (2) if the text is not YAML or
 * is of another format; all other problems are in `problems`.
 */
export async function examinePatient(
  text: string,
  fileName: string,
  { folder = '', locateName = fileName }: ParseOptions = {},
): Promise<ExaminedPatient> {
  refuseForeign(text, fileName, { what: 'pavm patient file', format: 'pavm-patient/1', exitCode: 2 });
  const yaml = parseLocatedYaml(text, fileName, { exitCode: 2, keepSlips: true });
  requireFormat(yaml, 'patient', 2);
  const problems = new Problems(yaml, fileName, 2);
  await checkStructure(yaml, 'patient', problems);
  const reader = new FileReader(yaml, readAnnotations(yaml, 'patient', problems), problems);
  const findings: Finding[] = [];
  checkInspiredText(reader, problems);
  checkRanges(reader, CASE_RANGES, problems, (path) =>
    path.endsWith('.fio2') ? inspiredFraction(reader, path.slice(0, -'.fio2'.length)) : undefined,
  );
  if (!reader.has('purpose'))
    findings.push(
      finding('note', 'purpose-assumed', 'purpose', 'No purpose is given; the case is taken as clinical.'),
    );
  checkGases(reader, problems, findings);
  checkPatient(reader, findings);
  checkTeam(reader, problems);
  checkExpected(reader, problems);
  const remainder = remainderOf(reader, problems, findings);
  checkLesionIds(reader, problems);
  const locate = (path: string): string => {
    const { line, col } = yaml.position(path);
    return `${locateName}:${line}:${col}`;
  };
  if (!problems.isEmpty) return { problems, findings };
  const inputAt = inputFinder(reader, folder);
  return {
    problems,
    findings,
    patient: {
      shared: buildCase(reader, inputAt, locate, { surfaces: false }),
      lesions: reader.items('lesions').map((path) => ({
        id: reader.text(`${path}.id`) as string,
        file: inputAt(`${path}.case`) as InputPath,
        path,
      })),
      remainder,
    },
  };
}

function remainderOf(reader: FileReader, problems: Problems, findings: Finding[]): Remainder {
  const path = 'remainder';
  if (!reader.has(path)) {
    findings.push(
      finding(
        'note',
        'remainder-assumed',
        path,
        'The file does not say whether other lesions exist: the remainder is taken as unknown. Write none, unknown or a share such as "10 %".',
      ),
    );
    return 'unknown';
  }
  const text = reader.text(path);
  if (text === 'none' || text === 'unknown') return text;
  const read = text === undefined ? undefined : parseQuantity(text, 'fraction', 'fraction');
  if (read?.ok && read.value >= 0 && read.value < 1) return read.value === 0 ? 'none' : read.value;
  problems.add(
    path,
    `${quoted(reader.source(path) ?? '')} is not a remainder. Write none, unknown, or a share of the shunt from 0 to below 100 %, for example "10 %".`,
  );
  return 'unknown';
}

function checkLesionIds(reader: FileReader, problems: Problems): void {
  const seen = new Map<string, string>();
  for (const path of reader.items('lesions')) {
    const id = reader.text(`${path}.id`);
    if (id === undefined) continue;
    const before = seen.get(id);
    if (before) problems.add(`${path}.id`, `${quoted(id)} is the id of ${before} too. Ids must differ.`);
    else seen.set(id, path);
  }
}
