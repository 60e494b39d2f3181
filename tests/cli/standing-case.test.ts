import {
  appendFileSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import { batchList } from '../../src/cli/batch/batch-list.js';
import { stillStanding, standingCase } from '../../src/cli/batch/standing-case.js';
import { packageVersion } from '../../src/cli/version.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { pavm, summaryIn, writeCases } from '../batch/make-batch.js';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const base = mkdtempSync(join(tmpdir(), 'pavm-standing-'));
const out = join(base, 'plans');
const version = packageVersion();
const grounds = { ruleSet: loadRules().hash, version };
const planOf = (id: string) => ({ planFolder: join(out, id), planShown: id });
const standing = (root?: string) => standingCase(join(base, 'c01'), { version, root }, planOf);
/** Whether a run would keep the plan as it is. */
const stands = async (others: Partial<typeof grounds & { today: string }> = {}): Promise<boolean> => {
  const found = await standing();
  return (
    found !== undefined &&
    (await stillStanding(found.plan, join(out, 'c01'), { ...grounds, ...others })) !== undefined
  );
};

beforeAll(async () => {
  writeCases(base, 2, 1);
  await pavm(['batch', join(base, 'c01'), join(base, 'c02'), '--out', out]);
});
afterAll(() => rmSync(base, { recursive: true, force: true }));

it('recognises an up-to-date plan, and the row written for it, from its result alone', async () => {
  const found = await standing();
  expect(found?.id).toBe('c01');
  expect(found?.plan.row).toEqual(summaryIn(out).cases[0]);
  expect(await stands()).toBe(true);
});

it('keeps of each case only what the summary and the next check need, and nothing that was parsed', async () => {
  for (const folder of [out, join(base, 'nothing-there')]) {
    const { cases } = await batchList([join(base, 'c01'), join(base, 'c02')], { out: folder });
    expect(cases).toHaveLength(2);
    // a parsed case has functions, which cannot be cloned
    for (const one of structuredClone(cases)) expect(JSON.stringify(one).length).toBeLessThan(4000);
  }
});

it.each([
  ['rules', { ruleSet: '0'.repeat(64) }],
  ['date', { today: '2026-05-05' }],
  ['version', { version: '9.9.9' }],
])('detects another %s', async (_, others) => {
  expect(await stands(others)).toBe(false);
});

it('ignores a plan of another version', async () => {
  expect(await standingCase(join(base, 'c01'), { version: '9.9.9' }, planOf)).toBeUndefined();
});

/** Changes a file while `during` runs. */
async function whileChanged(path: string, change: (bytes: Buffer) => void, during: () => Promise<void>) {
  const bytes = readFileSync(path);
  try {
    change(Buffer.from(bytes));
    await during();
  } finally {
    rmSync(path, { force: true });
    writeFileSync(path, bytes);
  }
}
const flipLast = (path: string) => (bytes: Buffer) => {
  bytes[bytes.length - 1] ^= 1;
  writeFileSync(path, bytes);
};

const input = (name: string): string => join(base, 'c01', name);
const output = (name: string): string => join(out, 'c01', name);

it.each([
  ['a mesh of unchanged size', input('meshes/sac.stl')],
  ['the case file, in a comment only', input('case.yaml')],
  ['a page of unchanged size', output('page.html')],
  ['the result', output('result.json')],
  ['a printable model', output('print/model.3mf')],
])('detects a change of %s', async (_, path) => {
  const change = path.endsWith('.yaml') ? () => appendFileSync(path, '# seen\n') : flipLast(path);
  await whileChanged(path, change, async () => expect(await stands()).toBe(false));
  expect(await stands()).toBe(true);
});

it.each(['plan.md', 'outputs.json', 'figures/shunt.svg'])('detects a lost %s', async (name) => {
  const path = output(name);
  await whileChanged(
    path,
    () => rmSync(path),
    async () => expect(await stands()).toBe(false),
  );
});

it('does not accept an output behind a link', async () => {
  renameSync(output('figures'), join(base, 'figures'));
  symlinkSync(join(base, 'figures'), output('figures'));
  expect(await stands()).toBe(false);
  rmSync(output('figures'));
  renameSync(join(base, 'figures'), output('figures'));
  expect(await stands()).toBe(true);
});

it('leaves an input that now leads out of the folder to the case reader, unless the root contains it', async () => {
  const outside = join(base, 'elsewhere.stl');
  renameSync(input('meshes/sac.stl'), outside);
  symlinkSync(outside, input('meshes/sac.stl'));
  expect(await standing()).toBeUndefined();
  expect(await standing(base)).toBeDefined();
  rmSync(input('meshes/sac.stl'));
  renameSync(outside, input('meshes/sac.stl'));
});
