import { constants, totalmem } from 'node:os';
import { nextToStart } from '../../batch/admission.js';
import { failedRow, leftRow, type Row } from '../../batch/row.js';
import { EXIT, ReportedFailure } from '../../foundation/failure.js';
import type { Rules } from '../../rules/rule.js';
import { settle } from '../output/unfinished.js';
import { writeFolder } from '../output/write-folder.js';
import { packageVersion } from '../version.js';
import type { BatchCase } from './batch-case.js';
import type { Progress } from './batch-progress.js';
import type { BatchOutcome, BatchTask } from './batch-task.js';
import { stillStanding } from './standing-case.js';
import { WorkerEnded, type WorkerProcesses } from './worker-processes.js';

export interface PoolOptions extends Pick<BatchTask, 'today' | 'root' | 'rules'> {
  jobs: number;
  pool: WorkerProcesses;
  /** The rules in force. */
  inForce: Rules;
  /** Compute even unchanged cases. */
  force?: boolean;
  progress: Progress;
}

export interface PoolRun {
  rows: Row[];
  computed: number;
  unchanged: number;
  /** Whether a case had to wait for memory while a job was free. */
  heldByMemory: boolean;
  /** The signal that stopped the run. */
  stoppedBy?: StopSignal;
}

const STOP_SIGNALS = ['SIGINT', 'SIGTERM'] as const;
type StopSignal = (typeof STOP_SIGNALS)[number];

/** Exit code of a run that a signal stopped: 128 plus its number, as in shells. */
export const stoppedCode = (signal: StopSignal): number => 128 + constants.signals[signal];

/** Share of the machine's memory that the workers may use together: common practice, no source. */
const MEMORY_SHARE = 0.6;

/**
 * Computes cases in worker processes, one case per worker, as many at once as `jobs` and memory allow, the largest first. Plan folders are
 * written by this process, so that a worker that is killed never leaves half a folder; meanwhile the worker continues with the next case.
 * The first SIGINT or SIGTERM ends the workers, lets a started write finish, and returns what is done; a second one ends the program.
 */
export async function runPool(cases: readonly BatchCase[], options: PoolOptions): Promise<PoolRun> {
  const run: PoolRun = { rows: [], computed: 0, unchanged: 0, heldByMemory: false };
  const { pool, jobs } = options;
  const memory = Math.min(totalmem(), process.constrainedMemory() || Number.POSITIVE_INFINITY) * MEMORY_SHARE;
  const waiting = jobs === 1 ? [...cases] : [...cases].sort((a, b) => b.bytes - a.bytes);
  const computing = new Map<BatchCase, Promise<unknown>>();
  /** Computing or writing. A case that failed stays in the list, so that the next wait ends the run. */
  const open = new Set<Promise<void>>();
  const start = (one: BatchCase): void => {
    const outcome = outcomeOf(one, options, run);
    computing.set(
      one,
      outcome.finally(() => computing.delete(one)),
    );
    const done = outcome.then((computed) => computed && finish(one, computed, options, run));
    open.add(done);
    done.then(
      () => open.delete(done),
      () => undefined,
    );
  };
  const stop = (signal: StopSignal): void => {
    run.stoppedBy = signal;
    waiting.length = 0;
    void pool.end();
  };
  for (const signal of STOP_SIGNALS) process.once(signal, stop);
  try {
    while (waiting.length > 0 || open.size > 0) {
      // results that are waiting to be written take memory
      const next =
        open.size < 2 * jobs ? nextToStart(waiting, [...computing.keys()], jobs, memory) : undefined;
      if (next === undefined) {
        if (waiting.length > 0 && computing.size < jobs && open.size === computing.size)
          run.heldByMemory = true;
        await Promise.race([...computing.values(), ...open]);
        continue;
      }
      waiting.splice(waiting.indexOf(next), 1);
      start(next);
    }
  } finally {
    for (const signal of STOP_SIGNALS) process.off(signal, stop);
  }
  const seen = new Set(run.rows.map((row) => row.case));
  for (const { name } of cases) if (!seen.has(name)) run.rows.push(leftRow(name));
  return run;
}

/** The result of computing a case; undefined if its plan is still valid, or the run was stopped. */
async function outcomeOf(
  one: BatchCase,
  { pool, today, root, rules, inForce, force, progress }: PoolOptions,
  run: PoolRun,
): Promise<BatchOutcome | undefined> {
  const { path, planFolder, planShown, name, bytes } = one;
  try {
    await settle(planFolder);
    const standing = force ? undefined : await rowsThatStand(one, { inForce, root, today });
    if (standing === undefined) return await pool.run({ path, planShown, today, root, rules });
    run.unchanged += 1;
    run.rows.push(...standing);
    progress.step(`${name}: unchanged, ${standing[0].recommended}`, bytes);
    return undefined;
  } catch (error) {
    return run.stoppedBy === undefined ? crashed(error, planShown) : undefined;
  }
}

/** Writes the plan of a case and adds its rows to the run. */
async function finish(
  { inputs, planFolder, planTyped, name, bytes }: BatchCase,
  computed: BatchOutcome,
  { rules, progress }: PoolOptions,
  run: PoolRun,
): Promise<void> {
  let outcome = computed;
  if (outcome.ok) {
    try {
      await writeFolder(
        {
          dir: planFolder,
          shown: planTyped,
          kind: 'plan',
          inputs: [...inputs, ...(rules === undefined ? [] : [rules])],
        },
        outcome.files,
      );
      run.computed += 1;
    } catch (error) {
      if (!(error instanceof ReportedFailure)) throw error;
      outcome = { ok: false, exitCode: error.exitCode, problems: error.problems };
    }
  }
  if (outcome.ok) {
    run.rows.push(...outcome.rows);
    progress.step(`${name}: ${outcome.rows[0].recommended}`, bytes);
  } else {
    run.rows.push(failedRow(name, outcome.exitCode, outcome.problems));
    progress.step(`${name}: failed`, bytes);
  }
}

/** The rows of a plan that is unchanged. */
async function rowsThatStand(
  one: BatchCase,
  { inForce: rules, root, today }: Pick<PoolOptions, 'inForce' | 'root' | 'today'>,
): Promise<[Row, ...Row[]] | undefined> {
  if (one.standing) {
    const grounds = { ruleSet: rules.hash, version: packageVersion(), today };
    const row = await stillStanding(one.standing, one.planFolder, grounds);
    if (row) return [row];
  }
  const { unchangedRows } = await import('./read-listed.js');
  return unchangedRows(one, root, { rules, today });
}

/** The outcome for a worker that died: the engine aborts, or the system kills it, if memory is short; anything else is a defect. */
function crashed(error: unknown, shown: string): BatchOutcome {
  if (error instanceof WorkerEnded && (error.signal === 'SIGABRT' || error.signal === 'SIGKILL'))
    return {
      ok: false,
      exitCode: EXIT.input,
      problems: [
        `${shown}: the case needs more memory than is available (${error.signal}). Make its meshes smaller, or run fewer jobs.`,
      ],
    };
  const { message } = error as Error;
  return { ok: false, exitCode: EXIT.defect, problems: [`internal error, a defect of ours: ${message}`] };
}
