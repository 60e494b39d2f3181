import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import { parseShard, type Shard, summaryName } from '../../batch/shard.js';
import { type Summary, summaryOf } from '../../batch/summary.js';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { numberFlag } from '../../foundation/quantity.js';
import type { Rules } from '../../rules/rule.js';
import { rulesInForce } from '../../rules/rules-in-force.js';
import { batchList } from '../batch/batch-list.js';
import { type PoolRun, runPool, stoppedCode } from '../batch/batch-pool.js';
import { startProgress } from '../batch/batch-progress.js';
import { WorkerProcesses } from '../batch/worker-processes.js';
import { showSummary, writeSummary } from '../batch/write-summary.js';
import { checkToday } from '../input/today-flag.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { packageVersion } from '../version.js';

export interface BatchOptions {
  jobs?: string;
  out?: string;
  shard?: string;
  watch?: boolean;
  force?: boolean;
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/** Greatest number of workers. */
const MOST_JOBS = 256;

/**
 * `pavm batch CASES...`: plans many cases, several at once, and writes `summary.csv`, `summary.json` and `summary.md`. Plans go to `plan/`
 * next to each case and the summary to the working folder; with `--out DIR` to `DIR/ID/` and `DIR`. Every case that can be finished is;
 * cases whose inputs, rules, version and options are unchanged are not recomputed. Returns the highest exit code met, or 128 plus the
 * number of the signal that stopped the run.
 */
export async function run(
  args: readonly string[],
  options: BatchOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length === 0)
    throw new InputFailure(EXIT.usage, 'batch: name at least one case, for example: pavm batch cases/*');
  checkToday(options.today);
  const jobs = jobsOf(options.jobs);
  const shard = options.shard === undefined ? undefined : parseShard(options.shard);
  if (options.watch) return watch(args, options, jobs, shard, terminal);
  return endCode(await runOnce(args, options, jobs, shard, terminal));
}

const endCode = ({ code, stoppedBy }: { code: number; stoppedBy: Stopped }): number =>
  stoppedBy === undefined ? code : stoppedCode(stoppedBy);

/** Runs, waits for a change and runs again. A signal while waiting is the normal way to end and returns the code of the last run. */
async function watch(
  args: readonly string[],
  options: BatchOptions,
  jobs: number,
  shard: Shard | undefined,
  terminal: Terminal,
): Promise<number> {
  const { stateOf, waitForChange } = await import('../batch/batch-watch.js');
  const ending = new AbortController();
  const end = (): void => ending.abort();
  // for the whole time, so that no signal is lost between a run and the wait after it
  process.on('SIGINT', end);
  process.on('SIGTERM', end);
  try {
    for (let force = options.force; ; force = false) {
      const before = await stateOf(args, options);
      const outcome = await runOnce(args, { ...options, force }, jobs, shard, terminal);
      if (outcome.stoppedBy !== undefined || ending.signal.aborted) return endCode(outcome);
      if (!terminal.quiet) terminal.err('Watching for changes; end with Ctrl-C\n');
      if (!(await waitForChange(args, options, before, ending.signal))) return outcome.code;
    }
  } finally {
    process.off('SIGINT', end);
    process.off('SIGTERM', end);
  }
}

function jobsOf(text: string | undefined): number {
  if (text === undefined) return availableParallelism();
  const jobs = numberFlag('--jobs', text);
  if (!Number.isInteger(jobs) || jobs < 1 || jobs > MOST_JOBS)
    throw new InputFailure(
      EXIT.usage,
      `--jobs ${shownPath(text)}: a whole number from 1 to ${MOST_JOBS} is needed.`,
    );
  return jobs;
}

type Stopped = Awaited<ReturnType<typeof runPool>>['stoppedBy'];

async function runOnce(
  args: readonly string[],
  options: BatchOptions,
  jobs: number,
  shard: Shard | undefined,
  terminal: Terminal,
): Promise<{ code: number; stoppedBy: Stopped }> {
  const inForce = await rulesInForce(options.rules);
  const tool: Summary['tool'] = {
    name: 'pavm-planner',
    version: packageVersion(),
    rule_set: inForce.hash,
  };
  sayFindings(inForce.findings, terminal);
  const ran = await computeAll(args, { ...options, jobs, shard, inForce }, terminal);
  const { rows, computed, unchanged, heldByMemory, stoppedBy } = ran;
  if (heldByMemory && !terminal.quiet)
    terminal.err(`Memory did not allow ${jobs} jobs at all times: cases waited for it.\n`);
  const summary = summaryOf(rows, tool, shard);
  for (const { status, case: name, problems } of summary.cases)
    if (status === 'failed') for (const problem of problems) terminal.err(`${name}: ${problem}\n`);
  const left = summary.cases.filter(({ status }) => status === 'left').map((row) => row.case);
  if (stoppedBy !== undefined)
    terminal.err(
      `Stopped by ${stoppedBy}. Left: ${left.join(', ') || 'nothing'}. The same command continues from here.\n`,
    );
  const folder = options.out ?? '.';
  await writeSummary(folder, summaryName(shard), summary);
  showSummary(summary, options.json === true, terminal);
  if (!terminal.quiet)
    terminal.err(
      `${computed} computed, ${unchanged} unchanged, ${summary.failed} failed, ${summary.left} left. The summary is in ${shownPath(join(folder, `${summaryName(shard)}.md`))}\n`,
    );
  return { code: summary.exit_code, stoppedBy };
}

interface Share extends Omit<BatchOptions, 'jobs' | 'shard'> {
  jobs: number;
  shard: Shard | undefined;
  inForce: Rules;
}

/** Reads the list and computes the cases that need it; the rows of cases that cannot be read come first. */
async function computeAll(args: readonly string[], share: Share, terminal: Terminal): Promise<PoolRun> {
  const { jobs, shard, inForce, out, root, today, rules, force } = share;
  const pool = new WorkerProcesses(Math.min(jobs, args.length));
  try {
    const { cases, failed } = await batchList(args, { out, root, shard, onRead: () => pool.begin() });
    const progress = await startProgress(cases, terminal);
    const run = await runPool(cases, { today, root, rules, inForce, force, jobs, pool, progress });
    progress.close();
    return { ...run, rows: [...failed, ...run.rows] };
  } finally {
    await pool.end();
  }
}
