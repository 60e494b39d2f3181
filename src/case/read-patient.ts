import { basename, dirname, join, resolve } from 'node:path';
import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { decodeYaml } from '../foundation/located-yaml.js';
import { refuseLinkOutside } from '../foundation/own-folder.js';
import { quoted } from '../foundation/quoted-text.js';
import type { Case, InputPath } from './case.js';
import { checkedRoot, shownPath } from './case-files.js';
import { locateInput } from './confined-path.js';
import { examinePatient, type NamedLesion, type PatientFile } from './parse-patient.js';
import type { Problems } from './problems.js';
import {
  type CaseOnDisk,
  examineCaseFile,
  type ExaminedFile,
  findInputs,
  type ReadOptions,
  readTextFile,
} from './read-case.js';

/** One lesion of a patient: its case, completed by the patient's blocks, or why it cannot be used. */
export interface LesionOnDisk extends NamedLesion {
  /** Its case file in the form that a command takes. */
  typed: string;
  onDisk?: CaseOnDisk;
  /** Problems of its inputs, whole lines; the lesion is left out. */
  problems: readonly string[];
}

/** A patient file as read from disk, with its lesions. */
export interface PatientOnDisk {
  patient: PatientFile;
  findings: Finding[];
  file: InputPath;
  folder: string;
  typed: string;
  bytes: Uint8Array;
  lesions: LesionOnDisk[];
  /** The shelf, if one is named. */
  shelf?: InputPath;
}

/** The folder of a lesion's case file, as a prefix of the paths of its inputs: `left-lower/`, or nothing. */
export const lesionFolder = (file: string): string => file.slice(0, file.lastIndexOf('/') + 1);

/** Blocks of the patient file that apply to all lesions. */
const PATIENT_BLOCKS = ['patient', 'blood', 'gases', 'circulation'] as const;

/**
 * Reads a patient file and the case files of its lesions, each completed from the patient file. Throws InputFailure: 2 with every problem
 * of the patient file, of the case files and between them, each with its place. Faults in the inputs of one lesion (meshes, label maps,
 * series) are in its `problems`, and the other lesions are read.
 */
export async function readPatient(path: string, options: ReadOptions = {}): Promise<PatientOnDisk> {
  const absolute = resolve(path);
  const folder = dirname(absolute);
  const typed = shownPath(path);
  const root = options.root === undefined ? undefined : await checkedRoot(options.root);
  refuseLinkOutside(path, 2, root, 'Copy the file there, or name a folder that contains it with --root DIR');
  const bytes = readTextFile(path, 2);
  const text = decodeYaml(bytes, typed, { exitCode: 2 });
  const locateName = shownPath(basename(absolute));
  const { patient, problems, findings } = await examinePatient(text, typed, { folder, locateName });
  problems.throwIfAny();
  const checked = patient as PatientFile;
  const shelf = checked.shared.shelf;
  if (shelf) await locateAt(problems, 'shelf', shelf, { folder, root });
  const examined = new Map<string, ExaminedFile>();
  for (const { path: at, file } of checked.lesions) {
    if (!(await locateAt(problems, `${at}.case`, file, { folder, root }))) continue;
    try {
      examined.set(at, await examineCaseFile(join(dirname(path), file.relative), options));
    } catch (error) {
      if (!(error instanceof InputFailure)) throw error;
      problems.addLines(`${at}.case`, error.problems);
    }
  }
  checkTogether(checked, examined, problems);
  for (const [at, file] of examined)
    if (!file.problems.isEmpty) problems.addLines(`${at}.case`, file.problems.lines());
  problems.throwIfAny();
  for (const { id, path: at } of checked.lesions) {
    const file = examined.get(at);
    if (file && hasBlock(file, 'planned')) findings.push(plannedNotUsed(id, file));
  }
  const lesions: LesionOnDisk[] = [];
  const treated = [...examined.values()]
    .flatMap(({ case: patientCase }) => patientCase?.lesion.treated ?? [])
    .sort()
    .at(-1);
  const fileInput: InputPath = { relative: basename(absolute), absolute };
  for (const lesion of checked.lesions) {
    const file = examined.get(lesion.path) as ExaminedFile;
    const { found, caseIsWrong } = await findInputs(file, options);
    if (caseIsWrong) problems.addLines(`${lesion.path}.case`, file.problems.lines());
    const lines = file.problems.lines();
    const { findings: own, folder: at, typed: as, text: written, bytes: raw } = file;
    const whole = completed(file.case as Case, checked, treated);
    const onDisk: CaseOnDisk = {
      case: whole,
      findings: [...findings, ...own.filter(({ id }) => id !== 'purpose-assumed')],
      file: file.file,
      folder: at,
      typed: as,
      text: written,
      bytes: raw,
      inputs: found,
    };
    lesions.push({ ...lesion, typed: as, problems: lines, ...(lines.length === 0 && { onDisk }) });
  }
  problems.throwIfAny();
  return {
    patient: checked,
    findings,
    file: fileInput,
    folder,
    typed,
    bytes,
    lesions,
    ...(shelf && { shelf }),
  };
}

async function locateAt(
  problems: Problems,
  at: string,
  input: InputPath,
  confines: { folder: string; root?: string },
): Promise<boolean> {
  const located = await locateInput(input, 'file', confines);
  if (located.ok) input.absolute = located.real;
  else problems.add(at, located.problem);
  return located.ok;
}

/** The treatment is planned for the patient: entries on it in a lesion's own file are not used. */
const plannedNotUsed = (id: string, { problems }: ExaminedFile): Finding =>
  finding(
    'caution',
    'lesion-planned-not-used',
    id,
    `${inFile(problems.place('planned'))} planned: the case file of ${id} plans a treatment of its own, which is not used: the patient file plans for all lesions. Move it there, or delete it.`,
  );

/** A place without the folder of its file, so that no folder of this machine gets into a result. */
const inFile = (place: string): string => place.replace(/^.*[/\\]/, '');

/** Contradictions between the files. Notes go to the place in the patient file; the text also names the place in the lesion's file. */
function checkTogether(
  { lesions }: PatientFile,
  examined: ReadonlyMap<string, ExaminedFile>,
  problems: Problems,
): void {
  const files = new Map<string, string>();
  let first: { id: string; scan?: string; frame?: string } | undefined;
  for (const { id, path } of lesions) {
    const file = examined.get(path);
    if (!file) continue;
    const at = `${path}.case`;
    const before = files.get(file.file.absolute);
    if (before) problems.add(at, `this is the case file of ${before} too. Each lesion has one of its own.`);
    else files.set(file.file.absolute, path);
    const patientCase = file.case;
    if (!patientCase) continue;
    for (const block of [...PATIENT_BLOCKS, 'shelf', 'team', 'at_hand'])
      if (hasBlock(file, block))
        problems.addLines(at, [
          `${file.problems.place(block)} ${block}: this block belongs to the patient and stands in the patient file. Take it out of the case file of ${id}, or move it there.`,
        ]);
    const scan = patientCase.scan.date;
    const frame = patientCase.surfaces?.frame;
    const differs = (key: string, mine: string | undefined, other: string | undefined): void => {
      if (mine === undefined || other === undefined || mine === other) return;
      problems.addLines(at, [
        `${file.problems.place(key)} ${key}: ${quoted(mine)}, but ${quoted(other)} in the case file of ${first?.id}. The lesions of one patient are planned on one scan in one frame: correct it, or segment them again on the same scan.`,
      ]);
    };
    differs('scan.date', scan, first?.scan);
    differs('surfaces.frame', frame, first?.frame);
    first = { id: first?.id ?? id, scan: first?.scan ?? scan, frame: first?.frame ?? frame };
  }
}

function hasBlock({ problems, text }: ExaminedFile, block: string): boolean {
  // a key at the left margin: the file has already been parsed, so this is one
  return new RegExp(`^["']?${block}["']?[ \\t]*:`, 'm').test(text) && problems.place(block) !== '';
}

/** The case of one lesion with the blocks that the patient file gives for all of them. */
function completed(
  lesion: Case,
  { shared, lesions, remainder }: PatientFile,
  treated: string | undefined,
): Case {
  const others =
    lesions.length > 1 || typeof remainder === 'number'
      ? 'yes'
      : remainder === 'unknown'
        ? 'unknown'
        : undefined;
  return {
    ...lesion,
    purpose: shared.purpose,
    patient: shared.patient,
    blood: shared.blood,
    gases: gasesOf(lesion, shared.gases, treated),
    circulation: shared.circulation,
    shelf: shared.shelf,
    planned: shared.planned,
    team: shared.team,
    atHand: shared.atHand,
    bleeding: shared.bleeding ?? lesion.bleeding,
    lesion: { ...lesion.lesion, otherLesions: others ?? lesion.lesion.otherLesions },
    locate: (path) => (OF_PATIENT.test(path) ? shared.locate(path) : lesion.locate(path)),
  };
}

const OF_PATIENT = /^(patient|blood|gases|circulation|shelf|planned|team|at_hand)\b/;

/**
 * The samples as they apply to one lesion. If another lesion was treated and this one was not, the samples from after that treatment show
 * this lesion untreated: they count as samples from before its own treatment.
 */
function gasesOf({ lesion, scan }: Case, gases: Case['gases'], treated: string | undefined): Case['gases'] {
  if (treated === undefined || lesion.treated !== undefined) return gases;
  if (scan.date === undefined || scan.date < treated) return gases;
  const now = gases.filter(({ on, when }) => (on === undefined ? when === 'after' : on >= treated));
  return now.length === 0 ? gases : now.map((sample) => ({ ...sample, when: 'before' }));
}
