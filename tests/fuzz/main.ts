import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { Worker } from 'node:worker_threads';
import { READERS } from './readers.js';
import { type FuzzedReader, inputOf } from './try-input.js';
import type { Said, Task } from './worker.js';

const { values: flags } = parseArgs({
  options: {
    inputs: { type: 'string', default: '20000' },
    seed: { type: 'string', default: '20261127' },
    only: { type: 'string', default: '' },
    keep: { type: 'string' },
    patience: { type: 'string', default: '60' },
  },
});
const INPUTS = Number(flags.inputs);
const SEED = Number(flags.seed);
/** An input that takes longer than this many seconds hangs. */
const PATIENCE_S = Number(flags.patience);
const SHOWN_FAILURES = 10;

interface Outcome {
  read: number;
  failures: Map<number, string>;
}

const chosen = READERS.filter(({ name }) => name.includes(flags.only));
if (chosen.length === 0 || !(INPUTS > 0) || !Number.isInteger(SEED)) {
  process.stderr.write(
    'fuzz: --inputs N --seed N --only NAME --keep FOLDER --patience SECONDS. Readers: ' +
      `${READERS.map(({ name }) => name).join('; ')}\n`,
  );
  process.exit(2);
}
process.stdout.write(`seed ${SEED}, ${INPUTS} mutated inputs a reader\n`);
let failed = 0;
for (const reader of chosen) {
  const { read, failures } = await tryAll(reader);
  failed += failures.size;
  process.stdout.write(
    `${reader.name.padEnd(32)} ${String(INPUTS).padStart(7)} tried ${String(read).padStart(7)} read ${String(failures.size).padStart(5)} failed\n`,
  );
  for (const [number, failure] of [...failures].slice(0, SHOWN_FAILURES)) {
    process.stdout.write(`  input ${number}: ${failure.split('\n').slice(0, 6).join('\n    ')}\n`);
    keep(reader, number);
  }
}
process.stdout.write(`${chosen.length * INPUTS} inputs tried, ${failed} failures\n`);
process.exit(failed > 0 ? 1 : 0);

/** All inputs of one reader in a second thread, which is stopped and restarted after an input that hangs. */
async function tryAll(reader: FuzzedReader): Promise<Outcome> {
  const failures = new Map<number, string>();
  const progress = new SharedArrayBuffer(8);
  const counters = new Int32Array(progress);
  for (let from = 0; from < INPUTS; ) {
    const stopped = await tryFrom(reader.name, from, progress, failures);
    if (stopped === undefined) break;
    const number = Atomics.load(counters, 0);
    failures.set(number, stopped);
    from = number + 1;
  }
  return { read: Atomics.load(counters, 1), failures };
}

/** Resolves when the thread ends: with the reason it could not continue, or with nothing. */
function tryFrom(
  reader: string,
  from: number,
  progress: SharedArrayBuffer,
  failures: Map<number, string>,
): Promise<string | undefined> {
  const counters = new Int32Array(progress);
  const task: Task = { reader, seed: SEED, from, to: INPUTS, progress };
  const worker = new Worker(new URL('worker.mjs', import.meta.url), {
    workerData: task,
    resourceLimits: { maxOldGenerationSizeMb: 1024 },
  });
  return new Promise((resolve) => {
    let last = -1;
    let seconds = 0;
    const watch = setInterval(() => {
      const now = Atomics.load(counters, 0);
      seconds = now === last ? seconds + 1 : 0;
      last = now;
      if (seconds > PATIENCE_S) end(`no answer for ${PATIENCE_S} s`);
    }, 1000);
    const end = (why: string | undefined): void => {
      clearInterval(watch);
      worker.removeAllListeners();
      // a thread that runs out of memory while it is being stopped has nothing more to report
      worker.on('error', () => {});
      void worker.terminate().then(() => resolve(why));
    };
    worker.on('message', (said: Said) => {
      if ('done' in said) end(undefined);
      else failures.set(said.number, said.failure);
    });
    worker.on('error', (error) => end(`the thread ended: ${error.message}`));
  });
}

function keep(reader: FuzzedReader, number: number): void {
  if (flags.keep === undefined) return;
  mkdirSync(flags.keep, { recursive: true });
  writeFileSync(
    join(flags.keep, `${reader.name.replace(/[^\w.-]+/g, '-')}-${SEED}-${number}`),
    inputOf(reader, SEED, number),
  );
}
