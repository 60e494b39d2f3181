import { readdir, stat } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import { idFrom } from '../../case/draft-case.js';
import { type CaseToJoin, draftPatient } from '../../case/draft-patient.js';
import { examinePatient } from '../../case/parse-patient.js';
import { shownPath } from '../../case/case-files.js';
import { readCaseFile } from '../../case/read-case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { writeBeside } from '../output/write-beside.js';
import type { Terminal } from '../terminal/terminal.js';

/**
 * `pavm new --patient DIR`: writes DIR/patient.yaml from the case folders in DIR. A case file with blocks of the patient is left as it is,
 * and a `lesion.yaml` without them is written next to it.
 */
export async function newPatient(
  folder: string,
  options: { force?: boolean; quiet?: boolean },
  terminal: Terminal,
): Promise<number> {
  const shown = shownPath(folder);
  const facts = await stat(folder).catch(() => undefined);
  if (!facts?.isDirectory())
    throw new InputFailure(EXIT.usage, `${shown}: there is no such folder. Put the case folders into it.`);
  const entries = await readdir(folder, { withFileTypes: true });
  const names = entries
    .filter((entry) => entry.isDirectory() && entry.name !== 'plan')
    .map(({ name }) => name)
    .sort();
  const cases: CaseToJoin[] = [];
  for (const name of names) {
    if (!(await stat(join(folder, name, 'case.yaml')).catch(() => undefined))) continue;
    const { file, text } = await readCaseFile(join(folder, name, 'case.yaml'));
    cases.push({ folder: name, file: file.relative, text });
  }
  if (cases.length === 0)
    throw new InputFailure(
      EXIT.usage,
      `${shown}: no folder with a case.yaml in it. Make one for each lesion: pavm new ${shown}/left-lower`,
    );
  const draft = draftPatient(idFrom(basename(resolve(folder))), cases);
  const { problems } = await examinePatient(draft.patient, 'patient.yaml');
  problems.throwIfAny();
  const target = join(folder, 'patient.yaml');
  for (const path of [target, ...draft.lesions.map((one) => join(folder, one.folder, one.file))])
    if (!options.force && (await stat(path).catch(() => undefined)))
      throw new InputFailure(
        EXIT.usage,
        `${shownPath(path)}: there is a file already. It is left as it is; --force replaces it.`,
      );
  for (const { folder: own, file, text } of draft.lesions)
    await writeBeside(join(folder, own, file), text, options.force === true);
  const kept = await writeBeside(target, draft.patient, options.force === true);
  for (const note of draft.notes) terminal.err(`CHECK ${note}\n`);
  if (!options.quiet && !terminal.quiet) {
    if (kept !== undefined) terminal.err(`The earlier patient file is kept as ${shownPath(kept)}.\n`);
    const beside =
      draft.lesions.length > 0
        ? ` and ${draft.lesions.map((one) => `${one.folder}/${one.file}`).join(', ')} (the case files are unchanged)`
        : '';
    terminal.err(
      `wrote ${shownPath(target)} with ${cases.length} ${cases.length === 1 ? 'lesion' : 'lesions'}${beside}. Go through the lines marked CHECK, then: pavm check ${shown}\n`,
    );
  }
  return EXIT.done;
}
