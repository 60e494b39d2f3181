// The test runner of the mutation tester. It loads the tests of a subject once and calls them for each mutant in the same
// process: a mutant then costs only the milliseconds of its tests, where starting a test program for each takes four seconds.
import { readdir } from 'node:fs/promises';
import { register } from 'node:module';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { INSTRUMENTER_CONSTANTS } from '@stryker-mutator/api/core';
import { declareClassPlugin, PluginKind } from '@stryker-mutator/api/plugin';
import {
  DryRunStatus,
  determineHitLimitReached,
  TestStatus,
  toMutantRunResult,
} from '@stryker-mutator/api/test-runner';
import { matches, SUBJECTS } from './subjects.mjs';
import { collectBlock, collected } from './test-shell.mjs';

class Runner {
  #state;
  #tests = [];

  constructor() {
    globalThis[INSTRUMENTER_CONSTANTS.NAMESPACE] ??= {};
    this.#state = globalThis[INSTRUMENTER_CONSTANTS.NAMESPACE];
  }

  capabilities() {
    // no: what runs while a file loads is not changed, so nothing is ever reloaded
    return { reloadEnvironment: true };
  }

  async init() {
    process.env.NODE_ENV = 'test';
    // a promise left behind by a failed test must not end the process
    process.on('unhandledRejection', () => {});
    register('./typescript-hooks.mjs', import.meta.url);
    const files = (await readdir('tests', { recursive: true })).map((name) => join('tests', name));
    const { tests: wanted, without = [] } = SUBJECTS[process.env.PAVM_MUTANTS];
    for (const file of files.filter((name) => wanted.some((glob) => matches(name, glob))).sort())
      await collectBlock(file, () => import(pathToFileURL(resolve(file)).href));
    const isLeftOut = ({ id }) => without.some((text) => id.includes(text));
    this.#tests = listed(collected, [], new Set()).filter((test) => !isLeftOut(test));
  }

  async dryRun() {
    this.#state.activeMutant = undefined;
    const run = await this.#run(this.#tests, true, false);
    // the fast tests first: most mutants then never reach the slow ones
    const time = new Map(run.tests.map(({ id, timeSpentMs }) => [id, timeSpentMs]));
    this.#tests.sort((a, b) => time.get(a.id) - time.get(b.id));
    return { status: DryRunStatus.Complete, ...run };
  }

  async mutantRun({ activeMutant, testFilter, hitLimit, disableBail }) {
    const wanted = new Set(testFilter);
    const tests = testFilter === undefined ? this.#tests : this.#tests.filter(({ id }) => wanted.has(id));
    Object.assign(this.#state, { activeMutant: activeMutant.id, hitCount: 0, hitLimit });
    const { tests: results } = await this.#run(tests, false, !disableBail);
    this.#state.activeMutant = undefined;
    const timeOut = determineHitLimitReached(this.#state.hitCount, hitLimit);
    return toMutantRunResult(timeOut ?? { status: DryRunStatus.Complete, tests: results }, true);
  }

  /** Runs tests in order, with the hooks of their blocks. */
  async #run(tests, isDry, stopsAtFailure) {
    const results = [];
    const begun = new Map();
    for (const { id, path, test } of tests) {
      const start = performance.now();
      let failure;
      if (!test.skipped) {
        this.#state.currentTestId = isDry ? id : undefined;
        try {
          for (const block of path) await this.#begin(block, begun, isDry ? id : undefined);
          for (const block of path) for (const hook of block.hooks.beforeEach) await hook();
          await test.run({});
        } catch (error) {
          failure = `${error?.stack ?? error}`;
        }
        for (const block of path.toReversed())
          for (const hook of block.hooks.afterEach)
            try {
              await hook();
            } catch (error) {
              failure ??= `${error?.stack ?? error}`;
            }
        this.#state.currentTestId = undefined;
      }
      const timeSpentMs = performance.now() - start;
      const outcome = test.skipped
        ? { status: TestStatus.Skipped }
        : failure === undefined
          ? { status: TestStatus.Success }
          : { status: TestStatus.Failed, failureMessage: failure };
      results.push({ id, name: id, timeSpentMs, ...outcome });
      if (failure !== undefined && stopsAtFailure) break;
    }
    for (const block of [...begun.keys()].reverse())
      for (const hook of block.hooks.afterAll) await Promise.resolve(hook()).catch(() => {});
    return isDry ? { tests: results, mutantCoverage: this.#state.mutantCoverage } : { tests: results };
  }

  /** What a block prepares once counts as reached by each of its tests. */
  async #begin(block, begun, id) {
    const shared = begun.get(block);
    if (shared === undefined) {
      const own = {};
      begun.set(block, own);
      const key = `${block.name} (before all)`;
      if (id !== undefined) this.#state.currentTestId = key;
      for (const hook of block.hooks.beforeAll) await hook();
      if (id !== undefined) {
        Object.assign(own, this.#state.mutantCoverage?.perTest?.[key]);
        delete this.#state.mutantCoverage?.perTest?.[key];
        this.#state.currentTestId = id;
      }
    }
    const reached = begun.get(block);
    if (id === undefined || Object.keys(reached).length === 0) return;
    const perTest = this.#state.mutantCoverage.perTest;
    perTest[id] ??= {};
    for (const [mutant, hits] of Object.entries(reached))
      perTest[id][mutant] = (perTest[id][mutant] ?? 0) + hits;
  }
}

/** All tests of a block and of its inner blocks, each with its blocks and a unique name. */
function listed(block, path, names) {
  const own = [...path, block];
  const tests = block.tests.map((test) => {
    const title = [...own.map(({ name }) => name), test.name].filter((name) => name !== '').join(' > ');
    let id = title;
    for (let number = 2; names.has(id); number += 1) id = `${title} (${number})`;
    names.add(id);
    return { id, path: own, test };
  });
  return [...tests, ...block.blocks.flatMap((inner) => listed(inner, own, names))];
}

export const strykerPlugins = [declareClassPlugin(PluginKind.TestRunner, 'in-process', Runner)];
