import type { ValidateFunction } from 'ajv/dist/2020.js';
import { schemaValidator } from '../foundation/schema-validator.js';
import {
  PATIENT_RESULT_SCHEMA_URL,
  patientResultSchema,
  RESULT_SCHEMA_URL,
  resultSchema,
} from './result-schema.js';

const validators = new Map<string, Promise<ValidateFunction>>();

/**
 * Checks a value against the schema of `Result` and looks for numbers that are not finite, at any depth. Returns one line per problem,
 * `PATH: what is wrong`; the list is empty for a valid value. The validator is loaded on the first call.
 */
export const checkResult = (value: unknown): Promise<string[]> =>
  checked(value, RESULT_SCHEMA_URL, resultSchema);

/** The same for the result of a patient. */
export const checkPatientResult = (value: unknown): Promise<string[]> =>
  checked(value, PATIENT_RESULT_SCHEMA_URL, patientResultSchema);

/** Starts loading the validator of `checkResult`, so that the check does not have to wait for it. */
export const prepareCheck = (): void => {
  // the check itself reports a failure
  validatorOf(RESULT_SCHEMA_URL, resultSchema).catch(() => undefined);
};

function validatorOf(url: URL, schema: () => object): Promise<ValidateFunction> {
  const validator = validators.get(url.href) ?? schemaValidator(url, schema);
  validators.set(url.href, validator);
  return validator;
}

async function checked(value: unknown, url: URL, schema: () => object): Promise<string[]> {
  const validate = await validatorOf(url, schema);
  const problems: string[] = [];
  findNotFinite(value, [], problems);
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

/** Adds a line for each number below `value` that is not finite; a whole result has tens of thousands, so a path is only written for those. */
function findNotFinite(value: unknown, path: (string | number)[], problems: string[]): void {
  if (typeof value === 'number') {
    if (!Number.isFinite(value))
      problems.push(
        `${pathText(path)}: ${value} is not a finite number; a value that is not known must be left out`,
      );
    return;
  }
  if (typeof value !== 'object' || value === null) return;
  const below = (item: unknown, step: string | number): void => {
    path.push(step);
    findNotFinite(item, path, problems);
    path.pop();
  };
  if (Array.isArray(value)) value.forEach(below);
  else for (const [key, item] of Object.entries(value)) below(item, key);
}

const pathText = (path: readonly (string | number)[]): string =>
  `result${path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${step}`)).join('')}`;
