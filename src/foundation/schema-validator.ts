import { existsSync } from 'node:fs';
import type { Options, ValidateFunction } from 'ajv/dist/2020.js';

/** How to make a schema's validator, with the annotation keywords of the schema. */
export interface ValidatorOptions extends Pick<Options, 'verbose' | 'allowUnionTypes'> {
  vocabulary?: readonly string[];
}

/**
 * The validator of the schema file `NAME.schema.json` at `url`. The build compiles it in advance to `NAME.validator.js` next to it
 * (`build/precompile.mjs`), which loads thirty times as fast; when running from the sources it is compiled here. `schema` reads the file.
 */
export async function schemaValidator<T>(
  url: URL,
  schema: () => object,
  { vocabulary = [], ...options }: ValidatorOptions = {},
): Promise<ValidateFunction<T>> {
  const compiled = new URL(url.href.replace(/\.schema\.json$/, '.validator.js'));
  if (existsSync(compiled)) return (await import(compiled.href)).default;
  const { Ajv2020 } = await import('ajv/dist/2020.js');
  const ajv = new Ajv2020({ allErrors: true, strict: true, ...options });
  ajv.addVocabulary([...vocabulary]);
  return ajv.compile<T>(schema());
}
