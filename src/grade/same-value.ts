import { dottedPath } from '../foundation/dotted-path.js';
import { InputFailure } from '../foundation/failure.js';
import { valueAt } from '../result/value-path.js';

/** The value or finding that a line of a key or of a trainee's answers refers to. */
export interface AskedFor {
  /** The path of a value, or the id of a finding. */
  value?: string;
  finding?: string;
}

/** The name of a line in a report: its path, or `finding ID`. */
export const whatOf = ({ value, finding }: AskedFor): string => value ?? `finding ${finding}`;

/**
 * A key that is equal for two lines exactly if they refer to the same value: the place in the result that a path leads to, however it is
 * written (`closure[0]`, `closure.0`, `closure.lobe`); without a result, or if there is no such place, the path itself.
 */
export function sameValueKey(line: AskedFor, result?: object): string {
  if (line.value === undefined) return whatOf(line);
  const found = result && valueAt(result, line.value);
  return found?.ok ? JSON.stringify(found.steps) : dottedPath(line.value);
}

/**
 * Rejects lines that refer to the same value: the second would count again, or contradict the first.
 * Throws InputFailure (2) with the places of both, one line for each repetition.
 */
export function refuseRepeated(lines: readonly (AskedFor & { where: string })[], result?: object): void {
  const seen = new Map<string, string>();
  const problems: string[] = [];
  for (const line of lines) {
    const key = sameValueKey(line, result);
    const first = seen.get(key);
    if (first === undefined) seen.set(key, line.where);
    else problems.push(`${line.where} ${whatOf(line)} is given at ${first} too. Keep one of the two lines.`);
  }
  if (problems.length > 0) throw new InputFailure(2, problems);
}
