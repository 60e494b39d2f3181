import { fileURLToPath } from 'node:url';
import type { Pool } from 'workerpool';
import { engineFlags } from '../engine-flags.js';
import type { BatchOutcome, BatchTask } from './batch-task.js';

/** A worker ended before it answered. */
export class WorkerEnded extends Error {
  /** The signal that ended it, if any. */
  readonly signal: string | undefined;

  constructor(cause: Error) {
    const [, signal] = /signalCode: `(SIG\w+)`/.exec(cause.message) ?? [];
    super(`a worker ended before it answered (${signal ?? cause.message.split('\n')[0]})`);
    this.signal = signal;
  }
}

/**
 * Processes that compute cases: started when first needed, kept for the next case, and ended with this process. They are processes and not
 * threads, so that one that runs out of memory does not take the others down, and so that each stays on one core.
 */
export class WorkerProcesses {
  private readonly most: number;
  private pool: Promise<Pool> | undefined;
  private begun = 0;
  private ended: Promise<unknown> | undefined;

  /** `most`: greatest number of processes at once. */
  constructor(most: number) {
    this.most = most;
  }

  /**
   * Starts one more process, up to the greatest number, for a case that will probably be computed: it loads while the list of cases is
   * still being read.
   */
  begin(): void {
    if (this.begun >= this.most || this.ended) return;
    this.begun += 1;
    this.pool ??= this.start();
    // a process that cannot start is reported with its first case
    void this.pool.then((pool) => pool.exec('ready', []).catch(() => undefined));
  }

  /** Computes one case. Throws WorkerEnded. */
  async run(task: BatchTask): Promise<BatchOutcome> {
    this.pool ??= this.start();
    const pool = await this.pool;
    // an ended pool accepts tasks but never answers
    if (this.ended) throw new WorkerEnded(new Error('the run was stopped'));
    try {
      return (await pool.exec('computeCase', [task])) as BatchOutcome;
    } catch (error) {
      throw new WorkerEnded(error as Error);
    }
  }

  /** Ends all of them at once, even if they are working. */
  end(): Promise<unknown> {
    this.ended ??= Promise.resolve(this.pool).then((pool) => pool?.terminate(true));
    return this.ended;
  }

  private async start(): Promise<Pool> {
    const { default: workerpool } = await import('workerpool');
    return workerpool.pool(fileURLToPath(new URL('./batch-process.js', import.meta.url)), {
      workerType: 'process',
      maxWorkers: this.most,
      forkOpts: {
        execArgv: [...engineFlags().worker],
        serialization: 'advanced',
        stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
      },
    });
  }
}
