import { existsSync } from 'node:fs';
import type { Options, ValidateFunction } from 'ajv/dist/2020.js';

/** How a schema's validator is made, with the annotation keywords that its schema carries. */
export interface ValidatorOptions extends Pick<Options, 'verbose' | 'allowUnionTypes'> {
  vocabulary?: readonly string[];
}

/**
 * The validator of the schema file `NAME.schema.json` at `url`. The build compiles it in advance to `NAME.validator.js` beside it
 * (`build/precompile.mjs`), which loads thirty times as fast; when the sources run unbuilt it is compiled here. `schema` reads the file.
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
