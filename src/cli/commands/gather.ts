import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { gatherSummaries, type SummaryFile } from '../../batch/gather.js';
import { parseSummary } from '../../batch/summary-check.js';
import { shownPath, systemProblem } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import type { Terminal } from '../terminal/terminal.js';
import { showSummary, writeSummary } from '../batch/write-summary.js';

export interface GatherOptions {
  out?: string;
  json?: boolean;
}

/** Largest summary that is accepted: about 100 000 cases. */
const MOST_BYTES = 256 * 1024 * 1024;

const SHARE = /^summary-\d{1,6}-of-\d{1,6}\.json$/;

/**
 * `pavm gather DIR...`: merges the summaries of all shares in the named folders (`summary-I-of-N.json`, or `summary.json` of a folder
 * that holds no shares). Written to `--out`, else into the first folder. Returns the highest exit code of all cases.
 */
export async function run(
  args: readonly string[],
  options: GatherOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length === 0)
    throw new InputFailure(
      EXIT.usage,
      'gather: name the folder or folders that contain the shares, for example: pavm gather plans',
    );
  const files: SummaryFile[] = [];
  for (const folder of [...new Set(args)]) files.push(...(await summariesIn(folder)));
  const summary = gatherSummaries(files);
  const folder = options.out ?? args[0];
  await writeSummary(folder, 'summary', summary);
  showSummary(summary, options.json === true, terminal);
  if (!terminal.quiet)
    terminal.err(
      `${files.length} summaries gathered: ${summary.done} done, ${summary.failed} failed, ${summary.left} left. The summary is in ${shownPath(join(folder, 'summary.md'))}\n`,
    );
  return summary.exit_code;
}

async function summariesIn(folder: string): Promise<SummaryFile[]> {
  const names = await readdir(folder).catch((error: NodeJS.ErrnoException) => {
    const problem =
      error.code === 'ENOTDIR'
        ? 'it is not a folder. Name the folder that holds the summaries.'
        : systemProblem(error);
    throw new InputFailure(EXIT.usage, `${shownPath(folder)}: ${problem}`);
  });
  const shares = names.filter((name) => SHARE.test(name)).sort();
  const chosen = shares.length > 0 ? shares : names.filter((name) => name === 'summary.json');
  if (chosen.length === 0)
    throw new InputFailure(
      EXIT.usage,
      `${shownPath(folder)}: it contains no summary. Write one with: pavm batch CASES... --out ${shownPath(folder)} --shard 1/2`,
    );
  return chosen.map((name) => readSummary(join(folder, name)));
}

function readSummary(path: string): SummaryFile {
  const name = shownPath(path);
  refuseLinkOutside(path, EXIT.input);
  const bytes = readRegularFile(path, { shown: name, exitCode: EXIT.input, mostBytes: MOST_BYTES });
  return { name, summary: parseSummary(bytes, name) };
}
