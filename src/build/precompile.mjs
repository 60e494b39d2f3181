// Does at build time what every start would otherwise repeat: compiles the schemas to validators and parses the built-in rules.
import { rmSync, writeFileSync } from 'node:fs';
import Ajv2020 from 'ajv/dist/2020.js';
import standaloneCode from 'ajv/dist/standalone/index.js';
import { buildSync } from 'esbuild';
import { fileSchema, VALIDATOR_OPTIONS } from '../../dist/case/file-schema.js';
import { patientResultSchema, resultSchema } from '../../dist/report/result-schema.js';
import { loadRules } from '../../dist/rules/load-rules.js';

for (const [name, { vocabulary = [], ...options }, schema] of [
  ['case/case', VALIDATOR_OPTIONS, fileSchema('case')],
  ['case/patient', VALIDATOR_OPTIONS, fileSchema('patient')],
  ['case/shelf', VALIDATOR_OPTIONS, fileSchema('shelf')],
  ['result/result', {}, resultSchema()],
  ['result/patient-result', {}, patientResultSchema()],
]) {
  const ajv = new Ajv2020.default({
    allErrors: true,
    strict: true,
    code: { source: true, esm: true },
    ...options,
  });
  ajv.addVocabulary([...vocabulary]);
  const validate = ajv.compile(schema);
  buildSync({
    stdin: { contents: standaloneCode.default(ajv, validate), resolveDir: '.' },
    outfile: `dist/${name}.validator.js`,
    bundle: true,
    format: 'esm',
    platform: 'node',
    charset: 'ascii',
    minify: true,
    logLevel: 'warning',
  });
}
const BUILT_IN = 'dist/rules/built-in.json';
rmSync(BUILT_IN, { force: true });
const { list, hash } = loadRules();
writeFileSync(BUILT_IN, JSON.stringify({ list, hash }));
