import { fileURLToPath } from 'node:url';
import type { Pool } from 'workerpool';
import type { BatchOutcome, BatchTask } from './batch-task.js';

/**
 * What each worker runs with: its garbage is collected and its code compiled on its own thread, and a function is compiled anew for
 * speed only once it is really hot. Left alone, the helper threads of one worker took a third of a second core, which the next
 * worker is to have; together two such workers take less processor time.
 */
const ENGINE_FLAGS = ['--single-threaded-gc', '--no-concurrent-recompilation', '--interrupt-budget=1000000'];

/** A worker ended before it answered. */
export class WorkerEnded extends Error {
  /** What ended it, where it was a signal. */
  readonly signal: string | undefined;

  constructor(cause: Error) {
    const [, signal] = /signalCode: `(SIG\w+)`/.exec(cause.message) ?? [];
    super(`a worker ended before it answered (${signal ?? cause.message.split('\n')[0]})`);
    this.signal = signal;
  }
}

/**
 * Processes that compute cases: started when they are first needed, kept for the next case, and gone when this process goes. Processes
 * rather than threads, so that one that runs out of memory takes nothing with it, and so that each keeps to one core.
 */
export class WorkerProcesses {
  private readonly most: number;
  private pool: Promise<Pool> | undefined;
  private ended: Promise<unknown> | undefined;

  /** `most`: processes at once. */
  constructor(most: number) {
    this.most = most;
  }

  /** Computes one case. Throws WorkerEnded. */
  async run(task: BatchTask): Promise<BatchOutcome> {
    this.pool ??= this.start();
    const pool = await this.pool;
    // a pool that has been ended takes tasks and never answers
    if (this.ended) throw new WorkerEnded(new Error('the run was stopped'));
    try {
      return (await pool.exec('computeCase', [task])) as BatchOutcome;
    } catch (error) {
      throw new WorkerEnded(error as Error);
    }
  }

  /** Ends all of them at once, whatever they do. */
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
        execArgv: ENGINE_FLAGS,
        serialization: 'advanced',
        stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
      },
    });
  }
}
