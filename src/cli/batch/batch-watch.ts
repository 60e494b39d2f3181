import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { patientFileOf } from '../../case/case-files.js';
import { readCase } from '../../case/read-case.js';
import { readPatient } from '../../case/read-patient.js';
import { caseInputs, filesOfPatient } from '../output/case-inputs.js';

/** Polling interval, ms: common practice, no source. Polling also works on network folders, which give no events. */
const LOOK_MS = 1000;

/**
 * Waits until a case, one of its inputs or a rule file differs from `since`, the state before the last run, and has then stayed the same
 * for one interval; changes during the run count too. Returns false when `signal` ended the wait.
 */
export async function waitForChange(
  paths: readonly string[],
  options: { root?: string; rules?: string },
  since: string,
  signal: AbortSignal,
): Promise<boolean> {
  let last = since;
  for (;;) {
    const ended = await wait(LOOK_MS, false, { signal }).catch(() => true);
    if (ended) return false;
    const state = await stateOf(paths, options);
    if (state !== since && state === last) return true;
    last = state;
  }
}

/** Sizes and modification times of everything a run reads. */
export async function stateOf(
  paths: readonly string[],
  options: { root?: string; rules?: string },
): Promise<string> {
  const files: string[] = [];
  for (const path of paths) {
    const read = await filesRead(path, options.root).catch(() => undefined);
    files.push(...(read ?? [path, join(path, 'case.yaml'), join(path, 'patient.yaml')]));
  }
  if (options.rules !== undefined) {
    const { rules } = options;
    files.push(...(await readdir(rules).catch(() => [])).map((name) => join(rules, name)));
  }
  const lines = await Promise.all(
    files.map(async (file) => {
      const facts = await stat(file).catch(() => undefined);
      return `${file} ${facts?.size} ${facts?.mtimeMs}`;
    }),
  );
  return lines.join('\n');
}

async function filesRead(path: string, root: string | undefined): Promise<string[]> {
  const patient = await patientFileOf(path);
  return patient === undefined
    ? caseInputs(await readCase(path, { root }))
    : filesOfPatient(await readPatient(patient, { root }));
}
