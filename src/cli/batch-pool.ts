import { readdir, rm, stat } from 'node:fs/promises';
import { constants, totalmem } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { nextToStart } from '../batch/admission.js';
import { failedRow, leftRow, type Row } from '../batch/row.js';
import { EXIT, InputFailure } from '../foundation/failure.js';
import type { BatchCase } from './batch-list.js';
import type { Progress } from './batch-progress.js';
import type { BatchOutcome, BatchTask } from './batch-worker.js';
import { writeFolder } from './write-folder.js';

export interface PoolOptions extends Pick<BatchTask, 'today' | 'root' | 'rules' | 'force'> {
  jobs: number;
  progress: Progress;
}

export interface PoolRun {
  rows: Row[];
  computed: number;
  unchanged: number;
  /** The signal that stopped the run. */
  stoppedBy?: StopSignal;
}

const STOP_SIGNALS = ['SIGINT', 'SIGTERM'] as const;
type StopSignal = (typeof STOP_SIGNALS)[number];

/** Exit code of a run that a signal stopped: 128 and its number, as shells do. */
export const stoppedCode = (signal: StopSignal): number => 128 + constants.signals[signal];

/** Share of the machine's memory that the workers together may take: common practice, no source. */
const MEMORY_SHARE = 0.6;

/**
 * Computes cases in worker threads, one case to a worker, as many at once as `jobs` and the memory allow, and writes each plan
 * folder as a whole from here: a worker that is ended never leaves half a folder. The first SIGINT or SIGTERM ends the workers, lets a
 * write that has begun finish, and returns what is done; a second one ends the program.
 */
export async function runPool(cases: readonly BatchCase[], options: PoolOptions): Promise<PoolRun> {
  const run: PoolRun = { rows: [], computed: 0, unchanged: 0 };
  if (cases.length === 0) return run;
  const { Piscina } = await import('piscina');
  const pool = new Piscina<BatchTask, BatchOutcome>({
    filename: fileURLToPath(new URL('./batch-worker.js', import.meta.url)),
    minThreads: 1,
    maxThreads: Math.min(options.jobs, cases.length),
    idleTimeout: 10_000,
    concurrentTasksPerWorker: 1,
  });
  const memory = Math.min(totalmem(), process.constrainedMemory() || Number.POSITIVE_INFINITY) * MEMORY_SHARE;
  const waiting = [...cases];
  const running = new Map<BatchCase, Promise<void>>();
  const stop = (signal: StopSignal): void => {
    run.stoppedBy = signal;
    waiting.length = 0;
    void pool.destroy();
  };
  for (const signal of STOP_SIGNALS) process.once(signal, stop);
  try {
    while (waiting.length > 0 || running.size > 0) {
      const next = nextToStart(waiting, [...running.keys()], options.jobs, memory);
      if (next === undefined) {
        await Promise.race(running.values());
        continue;
      }
      waiting.splice(waiting.indexOf(next), 1);
      running.set(
        next,
        computeOne(next, pool, options, run).finally(() => running.delete(next)),
      );
    }
  } finally {
    for (const signal of STOP_SIGNALS) process.off(signal, stop);
    await pool.destroy();
  }
  const seen = new Set(run.rows.map((row) => row.case));
  for (const { name } of cases) if (!seen.has(name)) run.rows.push(leftRow(name));
  return run;
}

async function computeOne(
  one: BatchCase,
  pool: { run(task: BatchTask): Promise<BatchOutcome> },
  { today, root, rules, force, progress }: PoolOptions,
  run: PoolRun,
): Promise<void> {
  const { path, planFolder, planShown, name, bytes } = one;
  let outcome: BatchOutcome;
  try {
    outcome = await pool.run({ path, planFolder, planShown, today, root, rules, force });
  } catch (error) {
    if (run.stoppedBy !== undefined) return;
    outcome = crashed(error);
  }
  if (outcome.ok && outcome.files !== undefined) {
    try {
      await clearLeftovers(planFolder);
      await writeFolder(planFolder, outcome.files, 'result.json');
      run.computed += 1;
    } catch (error) {
      outcome = unwritable(error, planShown);
    }
  } else if (outcome.ok) run.unchanged += 1;
  if (outcome.ok) {
    run.rows.push(outcome.row);
    progress.step(`${name}: ${outcome.files ? '' : 'unchanged, '}${outcome.row.recommended}`, bytes);
  } else {
    run.rows.push(failedRow(name, outcome.exitCode, outcome.problems));
    progress.step(`${name}: failed`, bytes);
  }
}

/** A worker that died: out of memory is the input's size, anything else a defect. */
function crashed(error: unknown): BatchOutcome {
  const { code, message } = error as NodeJS.ErrnoException;
  if (code === 'ERR_WORKER_OUT_OF_MEMORY')
    return {
      ok: false,
      exitCode: EXIT.input,
      problems: [
        'the case needs more memory than a worker may take. Make its meshes smaller, or run it alone with pavm plan.',
      ],
    };
  return { ok: false, exitCode: EXIT.defect, problems: [`internal error, a defect of ours: ${message}`] };
}

function unwritable(error: unknown, shown: string): BatchOutcome {
  if (error instanceof InputFailure) return { ok: false, exitCode: error.exitCode, problems: error.problems };
  const { code, message } = error as NodeJS.ErrnoException;
  return {
    ok: false,
    exitCode: EXIT.usage,
    problems: [
      `${shown}: the plan could not be written (${code ?? message}). Check the disk and the folder.`,
    ],
  };
}

/** Age from which an unfinished folder belongs to no living run, ms: writing one takes less than a second. */
const LEFTOVER_AGE_MS = 10_000;

/** Removes what an earlier run that was killed left beside a plan folder. */
async function clearLeftovers(planFolder: string): Promise<void> {
  const target = resolve(planFolder);
  const parent = dirname(target);
  const prefix = `.pavm-${basename(target)}-`;
  const names = await readdir(parent).catch(() => []);
  for (const name of names) {
    if (!name.startsWith(prefix) || !/^[A-Za-z0-9]{6}(-old)?$/.test(name.slice(prefix.length))) continue;
    const facts = await stat(join(parent, name)).catch(() => undefined);
    if (facts !== undefined && Date.now() - facts.mtimeMs > LEFTOVER_AGE_MS)
      await rm(join(parent, name), { recursive: true, force: true });
  }
}
