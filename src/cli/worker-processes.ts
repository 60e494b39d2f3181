import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import type { BatchOutcome, BatchTask } from './batch-worker.js';

/**
 * What each worker runs with: its rubbish is collected on its own thread, and a function is compiled anew for speed only once it is
 * really hot. Left alone, the helper threads of one worker took a third of a second core, which the next worker is to have.
 */
const ENGINE_FLAGS = ['--single-threaded-gc', '--interrupt-budget=1000000'];

/** A worker ended before it answered. */
export class WorkerEnded extends Error {
  readonly signal: NodeJS.Signals | null;

  constructor(code: number | null, signal: NodeJS.Signals | null) {
    super(`a worker ended before it answered (${signal ?? `exit code ${code}`})`);
    this.signal = signal;
  }
}

/**
 * Processes that compute cases: started when they are first needed, kept for the next case, and gone when this process goes. Processes
 * rather than threads, so that one that runs out of memory takes nothing with it, and so that each keeps to one core.
 */
export class WorkerProcesses {
  private readonly all = new Set<ChildProcess>();
  private readonly idle: ChildProcess[] = [];

  /** Computes one case. Throws WorkerEnded. */
  async run(task: BatchTask): Promise<BatchOutcome> {
    const worker = this.idle.pop() ?? this.start();
    const outcome = await new Promise<BatchOutcome>((resolve, reject) => {
      const onExit = (code: number | null, signal: NodeJS.Signals | null): void =>
        reject(new WorkerEnded(code, signal));
      worker.once('exit', onExit);
      worker.once('message', (message) => {
        worker.off('exit', onExit);
        resolve(message as BatchOutcome);
      });
      // a worker that has just died cannot be written to: its exit says so
      worker.send(task, () => undefined);
    });
    this.idle.push(worker);
    return outcome;
  }

  /** Ends all of them at once, whatever they do. */
  async end(): Promise<void> {
    await Promise.all(
      [...this.all].map(async (worker) => {
        const ended = once(worker, 'exit');
        worker.kill('SIGKILL');
        await ended;
      }),
    );
  }

  private start(): ChildProcess {
    const worker = fork(fileURLToPath(new URL('./batch-process.js', import.meta.url)), [], {
      execArgv: ENGINE_FLAGS,
      serialization: 'advanced',
      stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
    });
    this.all.add(worker);
    worker.once('exit', () => {
      this.all.delete(worker);
      const at = this.idle.indexOf(worker);
      if (at >= 0) this.idle.splice(at, 1);
    });
    return worker;
  }
}
