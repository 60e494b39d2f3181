import type { ValidateFunction } from 'ajv/dist/2020.js';
import { schemaValidator } from '../foundation/schema-validator.js';
import type { Result } from '../result/result.generated.js';
import { RESULT_SCHEMA_URL, resultSchema } from './result-schema.js';

let validate: ValidateFunction<Result> | undefined;

/**
 * Checks a value against the schema of `Result` and looks for numbers that are not finite, at any depth.
 * Returns one line for each problem, `PATH: what is wrong`; an empty list means that it holds.
 * The validator is loaded at the first call.
 */
export async function checkResult(value: unknown): Promise<string[]> {
  validate ??= await schemaValidator<Result>(RESULT_SCHEMA_URL, resultSchema);
  const problems = [...notFinite(value, 'result')];
  if (!validate(value)) {
    for (const error of validate.errors ?? []) {
      const extra =
        typeof error.params.additionalProperty === 'string' ? ` (${error.params.additionalProperty})` : '';
      problems.push(
        `result${error.instancePath.replaceAll('/', '.')}: ${error.message ?? error.keyword}${extra}`,
      );
    }
  }
  return [...new Set(problems)];
}

function* notFinite(value: unknown, path: string): Generator<string> {
  if (typeof value === 'number') {
    if (!Number.isFinite(value))
      yield `${path}: ${value} is not a finite number; a value that is not known must be left out`;
  } else if (Array.isArray(value)) {
    for (const [i, item] of value.entries()) yield* notFinite(item, `${path}[${i}]`);
  } else if (typeof value === 'object' && value !== null) {
    for (const [key, item] of Object.entries(value)) yield* notFinite(item, `${path}.${key}`);
  }
}
