import { expect } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import { InputFailure } from '../../src/foundation/failure.js';

/** The failure that an action throws; the test fails if it throws nothing or anything else. */
export async function failureOf(action: () => Promise<unknown>): Promise<InputFailure> {
  const outcome = await action().then(
    () => 'no failure',
    (error: unknown) => error,
  );
  expect(outcome).toBeInstanceOf(InputFailure);
  return outcome as InputFailure;
}

/** What is wrong with the text of a case file. */
export const problemsOf = (text: string): Promise<InputFailure> =>
  failureOf(() => parseCase(text, 'case.yaml'));
