// Does at build time what every start would do again: compiles the schemas to validators and parses the built-in rules.
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import Ajv2020 from 'ajv/dist/2020.js';
import standaloneCode from 'ajv/dist/standalone/index.js';
import { buildSync } from 'esbuild';
import { VALIDATOR_OPTIONS } from '../../dist/case/file-schema.js';
import { loadRules } from '../../dist/rules/load-rules.js';

for (const [schema, { vocabulary = [], ...options }] of [
  ['case/case', VALIDATOR_OPTIONS],
  ['case/shelf', VALIDATOR_OPTIONS],
  ['result/result', {}],
]) {
  const ajv = new Ajv2020.default({
    allErrors: true,
    strict: true,
    code: { source: true, esm: true },
    ...options,
  });
  ajv.addVocabulary([...vocabulary]);
  const validate = ajv.compile(JSON.parse(readFileSync(`src/${schema}.schema.json`, 'utf8')));
  buildSync({
    stdin: { contents: standaloneCode.default(ajv, validate), resolveDir: '.' },
    outfile: `dist/${schema}.validator.js`,
    bundle: true,
    format: 'esm',
    platform: 'node',
    charset: 'ascii',
    logLevel: 'warning',
  });
}
const BUILT_IN = 'dist/rules/built-in.json';
rmSync(BUILT_IN, { force: true });
writeFileSync(BUILT_IN, JSON.stringify(loadRules().list));
