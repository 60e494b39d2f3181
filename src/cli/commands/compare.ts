import { stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { shownPath } from '../../case/read-case.js';
import { compareResults, verdictLine } from '../../compare/compare.js';
import { comparisonJson } from '../../compare/comparison-json.js';
import { comparisonText } from '../../compare/comparison-text.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Result } from '../../result/result.generated.js';
import { loadRules } from '../../rules/load-rules.js';
import { measureCase } from '../measure-case.js';
import { readResult } from '../read-result.js';
import type { Terminal } from '../terminal.js';
import { checkToday } from '../today-flag.js';
import { settle } from '../unfinished.js';
import { writeWhole } from '../write-whole.js';
import { planResult } from './plan.js';

export interface CompareCommandOptions {
  out?: string;
  treated?: boolean;
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/**
 * `pavm compare OLD NEW`: two plan folders, result files or cases. A case is computed in memory. Markdown to stdout or `--out`,
 * or JSON with `--json`. Returns 0 where the plan stands and 1 where it changes.
 */
export async function run(
  args: readonly string[],
  options: CompareCommandOptions,
  terminal: Terminal,
): Promise<number> {
  const [oldPath, newPath] = args;
  if (oldPath === undefined || newPath === undefined)
    throw new InputFailure(
      EXIT.usage,
      'compare: name the old and the new plan, for example: pavm compare cases/tern-before cases/tern-after',
    );
  checkToday(options.today);
  const rules = loadRules(options.rules);
  const [old, now] = [await readSide(oldPath, options), await readSide(newPath, options)];
  const comparison = compareResults(old.result, now.result, { rules, treated: options.treated });
  if (old.unit !== undefined && now.unit !== undefined && old.unit !== now.unit)
    comparison.notes.push(
      `The meshes of the old case are in ${old.unit}, those of the new one in ${now.unit}; both were converted to mm.`,
    );
  if (options.json) terminal.out(comparisonJson(comparison));
  const text = comparisonText(comparison);
  if (options.out !== undefined) {
    await writeWhole(options.out, text, '--out');
    if (!terminal.quiet)
      terminal.err(`${verdictLine(comparison)}\nThe comparison is in ${shownPath(options.out)}\n`);
  } else if (!options.json) terminal.out(text);
  return comparison.verdict === 'plan stands' ? EXIT.done : EXIT.stopFinding;
}

interface ReadSide {
  result: Result;
  /** Unit of the meshes, where the side is a case. */
  unit?: string;
}

/** A result file, a folder that holds one, or else a case. */
async function readSide(path: string, options: CompareCommandOptions): Promise<ReadSide> {
  // a run that was killed while it replaced the plan may have left it under another name
  await settle(path.endsWith('.json') ? dirname(path) : path);
  const facts = await stat(path).catch((error: NodeJS.ErrnoException) => {
    throw new InputFailure(
      EXIT.usage,
      `${shownPath(path)}: it cannot be opened (${error.code}). Check the path.`,
    );
  });
  if (facts.isFile() && path.endsWith('.json')) return { result: await readResult(path) };
  if (facts.isDirectory()) {
    const file = join(path, 'result.json');
    if (await isFile(file)) return { result: await readResult(file) };
  }
  const measured = await measureCase(path, { root: options.root, rules: options.rules });
  const { result } = await planResult(measured, options.today);
  return { result, ...(measured.case.surfaces && { unit: measured.case.surfaces.unit }) };
}

const isFile = (path: string): Promise<boolean> =>
  stat(path).then(
    (facts) => facts.isFile(),
    () => false,
  );
