// What a test file imports from `vitest` while the mutation tester runs: it only collects the tests, so that `run-tests.mjs`
// can run any of them repeatedly without loading a file twice.
import { chai, JestAsymmetricMatchers, JestChaiExpect, JestExtend } from '@vitest/expect';

chai.use(JestExtend);
chai.use(JestChaiExpect);
chai.use(JestAsymmetricMatchers);

export const expect = (value, message) => chai.expect(value, message);
Object.assign(expect, chai.expect, { soft: expect, fail: chai.expect.fail });
expect.assertions = () => {};

/** The block being collected: its tests, its hooks and its inner blocks. */
let open = block('', undefined);
export const collected = open;

export function block(name, parent, skipped = false) {
  const hooks = { beforeAll: [], afterAll: [], beforeEach: [], afterEach: [] };
  return { name, parent, skipped: skipped || (parent?.skipped ?? false), hooks, tests: [], blocks: [] };
}

/** Collects what `define` declares as one block, file by file and block by block. */
export async function collectBlock(name, define, skipped = false) {
  const outer = open;
  open = block(name, outer, skipped);
  outer.blocks.push(open);
  try {
    await define();
  } finally {
    open = outer;
  }
}

function addBlock(name, define, skipped) {
  const outer = open;
  open = block(name, outer, skipped);
  outer.blocks.push(open);
  try {
    define();
  } finally {
    open = outer;
  }
}

function addTest(name, options, skipped) {
  const run = options.find((option) => typeof option === 'function');
  open.tests.push({ name, run, skipped: skipped || open.skipped || run === undefined });
}

/** `each` passes the rows of a table one by one, a row that is a list as arguments. */
const eachOf =
  (add) =>
  (rows) =>
  (name, ...options) => {
    const define = options.find((option) => typeof option === 'function');
    rows.forEach((row, index) => {
      const values = Array.isArray(row) ? row : [row];
      add(`${name} [${index}]`, () => define(...values));
    });
  };

export const describe = Object.assign((name, ...options) => addBlock(name, options.at(-1), false), {
  each: eachOf((name, define) => addBlock(name, define, false)),
  skipIf: (skipped) => (name, define) => addBlock(name, define, Boolean(skipped)),
  runIf: (wanted) => (name, define) => addBlock(name, define, !wanted),
});

export const it = Object.assign((name, ...options) => addTest(name, options, false), {
  each: eachOf((name, run) => addTest(name, [run], false)),
  skipIf:
    (skipped) =>
    (name, ...options) =>
      addTest(name, options, Boolean(skipped)),
  runIf:
    (wanted) =>
    (name, ...options) =>
      addTest(name, options, !wanted),
});
export const test = it;

const hook = (kind) => (run) => open.hooks[kind].push(run);
export const beforeAll = hook('beforeAll');
export const afterAll = hook('afterAll');
export const beforeEach = hook('beforeEach');
export const afterEach = hook('afterEach');
export const vi = { setConfig: () => {} };
