// The type of a result is generated from its schema. Without --write: fails if the committed type differs from the schema.
import { readFileSync, writeFileSync } from 'node:fs';
import { compileFromFile } from 'json-schema-to-typescript';

const SCHEMA = 'src/result/result.schema.json';
const TYPES = 'src/result/result.generated.ts';
const types = await compileFromFile(SCHEMA, {
  additionalProperties: false,
  bannerComment: '/** Generated from result.schema.json by npm run schemas; do not edit. */',
});
if (process.argv.includes('--write')) writeFileSync(TYPES, types);
else if (readFileSync(TYPES, 'utf8') !== types) {
  process.stderr.write(`${TYPES} is not what ${SCHEMA} gives: run npm run schemas.\n`);
  process.exitCode = 1;
}
