import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { shownPath } from '../../case/read-case.js';
import { compareResults, verdictLine } from '../../compare/compare.js';
import { comparisonJson } from '../../compare/comparison-json.js';
import { comparisonText } from '../../compare/comparison-text.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { checkResult } from '../../report/result-check.js';
import type { Result } from '../../result/result.generated.js';
import { loadRules } from '../../rules/load-rules.js';
import { measureCase } from '../measure-case.js';
import type { Terminal } from '../terminal.js';
import { writeWhole } from '../write-whole.js';
import { planFiles } from './plan.js';

export interface CompareCommandOptions {
  out?: string;
  treated?: boolean;
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
}

/** Largest result.json that is read: a plan of 32 vessels has about 5 MB. */
const MOST_RESULT_BYTES = 256 * 1024 * 1024;

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
  const { result } = await planFiles(measured, options.today);
  return { result, ...(measured.case.surfaces && { unit: measured.case.surfaces.unit }) };
}

const isFile = (path: string): Promise<boolean> =>
  stat(path).then(
    (facts) => facts.isFile(),
    () => false,
  );

/** Reads and checks a result. Throws InputFailure (3) that says what is wrong with it. */
export async function readResult(path: string): Promise<Result> {
  const shown = shownPath(path);
  const { size } = await stat(path);
  if (size > MOST_RESULT_BYTES)
    throw new InputFailure(
      EXIT.input,
      `${shown}: the file has ${size} bytes; at most ${MOST_RESULT_BYTES} are read.`,
    );
  let value: unknown;
  try {
    value = JSON.parse(await readFile(path, 'utf8'));
  } catch (error) {
    throw new InputFailure(
      EXIT.input,
      `${shown}: this is no JSON (${error instanceof Error ? error.message : 'unknown'}). Plan the case again.`,
    );
  }
  const format = (value as { format?: unknown } | null)?.format;
  if (format !== 'pavm-result/1')
    throw new InputFailure(
      EXIT.input,
      `${shown}: this is no result of this edition (format: pavm-result/1). Plan the case again.`,
    );
  const problems = await checkResult(value);
  if (problems.length > 0)
    throw new InputFailure(
      EXIT.input,
      `${shown}: the result does not fit its schema (${problems.slice(0, 3).join('; ')}). Plan the case again.`,
    );
  return value as Result;
}
