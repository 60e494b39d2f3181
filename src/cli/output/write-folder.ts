import { dirname } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { OutputFailure } from '../../foundation/failure.js';
import { inStage } from '../../foundation/stage.js';
import { fillFolder } from './fill-folder.js';
import { whileLocked } from './folder-lock.js';
import { makeFolder } from './make-folder.js';
import { encoded, listFile, type OutputFile, type OutputKind } from './output-list.js';
import { holdsNothing, type Survey, surveyFolder } from './own-files.js';
import { placementOf } from './placement.js';
import { swapFolder } from './swap-folder.js';
import { isFolder, realTarget, refuseInputs, refuseInsideOutput } from './target.js';
import { settle, unfinishedInside } from './unfinished.js';
import { asOutputFailure } from './write-problem.js';

/** A folder that a command writes. */
export interface FolderTarget {
  dir: string;
  kind: OutputKind;
  /** As the user wrote it, for messages; default `dir`. */
  shown?: string;
  /** Absolute paths of everything that the command reads; none of them may be, or be inside, the folder. */
  inputs: readonly string[];
}

/**
 * Writes an output folder: all files or none. Only files listed by an earlier run are replaced or removed; a listed file that was changed
 * since is kept under another name, and everything else stays. A symbolic link is followed.
 *
 * Throws InputFailure (2) if the folder is or contains an input; OutputFailure (5) if it holds anything other than an output of this kind,
 * if something is in the way, or if the system does not allow writing. The folder is then unchanged.
 */
export async function writeFolder(to: FolderTarget, files: readonly OutputFile[]): Promise<void> {
  const shown = shownPath(to.shown ?? to.dir);
  try {
    const target = await realTarget(to.dir);
    await refuseInputs(target, to.inputs, shown);
    await refuseInsideOutput(target, shown);
    await makeFolder(dirname(target));
    const listed = encoded(files);
    const all = [...listed, listFile(to.kind, listed)];
    const done = await inStage('write', () =>
      whileLocked(target, async () => {
        await settle(target);
        await place(target, to.kind, all, shown);
        return true;
      }),
    );
    if (!done)
      throw new OutputFailure(
        `${shown}: another run has been writing there for two minutes. Run again when it has ended.`,
      );
  } catch (error) {
    throw asOutputFailure(error, shown);
  }
}

/** Throws like `writeFolder`, before anything is computed, if a folder cannot be written because of its content. */
export async function checkFolder(to: FolderTarget): Promise<void> {
  const shown = shownPath(to.shown ?? to.dir);
  try {
    const target = await realTarget(to.dir);
    await refuseInputs(target, to.inputs, shown);
    await refuseInsideOutput(target, shown);
    if (await isFolder(target, shown)) refuseForeign(await surveyFolder(target), to.kind, shown);
  } catch (error) {
    throw asOutputFailure(error, shown);
  }
}

async function place(target: string, kind: OutputKind, files: OutputFile[], shown: string): Promise<void> {
  const survey = (await isFolder(target, shown)) ? await surveyFolder(target) : undefined;
  if (survey) refuseForeign(survey, kind, shown);
  const placement = survey
    ? await placementOf(target, survey, files, shown)
    : { files, remove: [], keep: [] };
  // files that systems create on a new disk were not searched, so they cannot be carried over
  const canSwap =
    survey === undefined || (survey.fixed === undefined && (survey.kind !== undefined || isEmpty(survey)));
  if (canSwap && (await swapFolder(target, survey, placement))) return;
  await fillFolder(target, unfinishedInside(target), placement);
}

const isEmpty = ({ own, edited, foreign, folders }: Survey): boolean =>
  own.size + edited.size + foreign.size + folders.length === 0;

function refuseForeign(survey: Survey, kind: OutputKind, shown: string): void {
  if (survey.kind === undefined && !holdsNothing(survey))
    throw new OutputFailure(
      `${shown}: the folder holds files that pavm did not write, and no output of an earlier run. They are left as they are; name another folder with --out.`,
    );
  if (survey.kind !== undefined && survey.kind !== kind)
    throw new OutputFailure(
      `${shown}: the folder contains an earlier output of another kind (${survey.kind}, not ${kind}). Name another with --out.`,
    );
}
