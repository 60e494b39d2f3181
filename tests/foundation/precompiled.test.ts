import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { fileSchema, VALIDATOR_OPTIONS } from '../../src/case/file-schema.js';
import { schemaValidator } from '../../src/foundation/schema-validator.js';
import { RESULT_SCHEMA_URL, resultSchema } from '../../src/report/result-schema.js';
import { loadRules } from '../../src/rules/load-rules.js';

/** The module as written by the build. */
const built = (path: string) => import(new URL(`../../dist/${path}`, import.meta.url).href);

describe('what the build computes in advance', () => {
  it('rules are those of the rule files', async () => {
    const { loadRules: loadBuilt } = await built('rules/load-rules.js');
    expect(JSON.parse(JSON.stringify(loadBuilt().list))).toEqual(
      JSON.parse(JSON.stringify(loadRules().list)),
    );
    expect(loadBuilt().hash).toBe(loadRules().hash);
    const { rulesInForce } = await built('rules/rules-in-force.js');
    expect((await rulesInForce()).hash).toBe(loadRules().hash);
    expect((await rulesInForce()).list).toEqual(loadBuilt().list);
  });

  const sound = readdirSync('cases')
    .filter((name) => existsSync(`cases/${name}/case.yaml`))
    .map((name) => parse(readFileSync(`cases/${name}/case.yaml`, 'utf8')));
  const broken = [
    {},
    { ...sound[0], gasses: [] },
    { ...sound[0], gases: [{ when: 'during', fio2: '1' }] },
    { ...sound[0], scan: 'yesterday', patient: { sex: 3, age: true } },
  ];

  it('the validator of case files decides like the schema', async () => {
    const url = new URL('../../src/case/case.schema.json', import.meta.url);
    const fromSchema = await schemaValidator(url, () => fileSchema('case'), VALIDATOR_OPTIONS);
    const compiled = (await built('case/case.validator.js')).default;
    for (const value of sound) expect(compiled(value)).toBe(true);
    for (const value of broken) {
      expect(compiled(value)).toBe(false);
      expect(fromSchema(value)).toBe(false);
      expect(compiled.errors).toEqual(fromSchema.errors);
    }
  });

  it('the validator of results decides like the schema', async () => {
    const fromSchema = await schemaValidator(RESULT_SCHEMA_URL, resultSchema);
    const compiled = (await built('result/result.validator.js')).default;
    for (const value of [
      {},
      { format: 'pavm-result/1', sac: { volume_ml: 'three' }, vessels: { A1: { role: 'x' } } },
    ]) {
      expect(compiled(value)).toBe(false);
      expect(fromSchema(value)).toBe(false);
      expect(compiled.errors).toEqual(fromSchema.errors);
    }
  });
});
