import { InputFailure } from '../foundation/failure.js';
import type { Row } from './row.js';
import { type Summary, summaryOf } from './summary.js';

/** A summary and the file it came from, for messages. */
export interface SummaryFile {
  name: string;
  summary: Summary;
}

/**
 * Merges the summaries of all shares. Throws InputFailure: 2 if shares are missing or repeated, or two cases have the same id; 3 if the
 * shares come from different versions or rules.
 */
export function gatherSummaries(files: readonly SummaryFile[]): Summary {
  if (files.length === 0) throw new InputFailure(2, 'gather: no summary was found.');
  const [first] = files;
  const problems: string[] = [];
  for (const { name, summary } of files.slice(1)) {
    if (summary.tool.version !== first.summary.tool.version)
      problems.push(
        `${name}: it was made by version ${summary.tool.version}, ${first.name} by ${first.summary.tool.version}. Compute all shares with one version.`,
      );
    if (summary.tool.rule_set !== first.summary.tool.rule_set)
      problems.push(
        `${name}: it was made with other rules than ${first.name}. Compute all shares with the same rules.`,
      );
  }
  if (problems.length > 0) throw new InputFailure(3, problems);
  const missing = [...missingShares(files), ...sameIds(files)];
  if (missing.length > 0) throw new InputFailure(2, missing);
  return summaryOf(
    files.flatMap(({ summary }) => summary.cases),
    first.summary.tool,
  );
}

function missingShares(files: readonly SummaryFile[]): string[] {
  const shares = files.flatMap(({ name, summary }) => (summary.shard ? [{ name, ...summary.shard }] : []));
  if (shares.length === 0) return [];
  const [{ of, name: firstName }] = shares;
  const problems: string[] = [];
  const seen = new Map<number, string>();
  for (const share of shares) {
    if (share.of !== of)
      problems.push(
        `${share.name}: a share of ${share.of}, but ${firstName} is one of ${of}. Gather one run at a time.`,
      );
    const other = seen.get(share.index);
    if (other !== undefined)
      problems.push(`${share.name}: share ${share.index} of ${of} is in ${other} too.`);
    seen.set(share.index, share.name);
  }
  const absent = Array.from({ length: of }, (_, i) => i + 1).filter((index) => !seen.has(index));
  if (problems.length === 0 && absent.length > 0) {
    const list = absent.slice(0, 20).join(', ') + (absent.length > 20 ? ' and more' : '');
    problems.push(`gather: of ${of} shares these are missing: ${list}. Run them with --shard I/${of}.`);
  }
  return problems;
}

function sameIds(files: readonly SummaryFile[]): string[] {
  const seen = new Map<string, string>();
  const problems: string[] = [];
  const named = (row: Row): boolean => row.status !== 'failed';
  for (const { name, summary } of files)
    for (const row of summary.cases.filter(named)) {
      const other = seen.get(row.case);
      if (other !== undefined)
        problems.push(`${name}: the case ${row.case} is in ${other} too. Ids must differ within a batch.`);
      else seen.set(row.case, name);
    }
  return problems;
}
