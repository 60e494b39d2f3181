import { shownPath } from '../../case/read-case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { quoted } from '../../foundation/quoted-text.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import { checkResult } from '../../report/result-check.js';
import type { Result } from '../../result/result.generated.js';

/** Largest result.json that is read: a plan of 32 vessels has about 5 MB. */
const MOST_RESULT_BYTES = 256 * 1024 * 1024;

/** No quantity of a plan comes near; sums and products of larger ones could overflow. */
const LARGEST_NUMBER = 1e15;

/** Reads and checks a result. Throws InputFailure (3) that says what is wrong with it. */
export async function readResult(path: string): Promise<Result> {
  const shown = shownPath(path);
  refuseLinkOutside(path, EXIT.input);
  return parseResult(
    readRegularFile(path, { shown, exitCode: EXIT.input, mostBytes: MOST_RESULT_BYTES }),
    shown,
  );
}

/** The bytes of a result file as a checked result. Throws InputFailure (3). */
export async function parseResult(bytes: Uint8Array, shown: string): Promise<Result> {
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder().decode(bytes));
  } catch {
    // the parser's own words repeat what stands in the file
    throw new InputFailure(EXIT.input, `${shown}: this is no JSON. Plan the case again.`);
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
  const large = tooLarge(value, 'result');
  if (large !== undefined)
    throw new InputFailure(
      EXIT.input,
      `${shown}: ${quoted(large)} is larger than any number of a plan. Plan the case again.`,
    );
  return value as Result;
}

/** The path of the first number beyond what can be computed with further. */
function tooLarge(value: unknown, path: string): string | undefined {
  if (typeof value === 'number') return Math.abs(value) > LARGEST_NUMBER ? path : undefined;
  if (typeof value !== 'object' || value === null) return undefined;
  for (const [key, item] of Object.entries(value)) {
    const found = tooLarge(item, `${path}.${key}`);
    if (found !== undefined) return found;
  }
  return undefined;
}
