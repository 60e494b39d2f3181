// Runs the mutation tester over the subjects or source files named on the command line (all subjects if none is named), then
// prints a table row for each file and a line for each mutant that no test noticed. `--sample N` changes every Nth line only.
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { basename, dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Stryker } from '@stryker-mutator/core';
import { matches, SUBJECTS } from './subjects.mjs';

const words = process.argv.slice(2);
const flag = words.indexOf('--sample');
const every = flag < 0 ? 1 : Number(words.splice(flag, 2)[1]);
const asked = words;
const jobs = (asked.length > 0 ? asked : Object.keys(SUBJECTS)).map(jobOf);

/** A subject by its name, or a source file with the tests of its subject. */
function jobOf(name) {
  if (name in SUBJECTS) return { name, subject: name, mutate: SUBJECTS[name].mutate };
  const subject = Object.keys(SUBJECTS).find((key) =>
    SUBJECTS[key].mutate.some((glob) => matches(name, glob)),
  );
  if (subject !== undefined && existsSync(name))
    return { name: basename(name, '.ts'), subject, mutate: [name] };
  process.stderr.write(`No such subject or file: ${name}. Subjects: ${Object.keys(SUBJECTS).join(', ')}.\n`);
  process.exit(2);
}

/** Every Nth line of the files that match a pattern, as the tester wants them; the first line differs from file to file. */
function someLines(pattern) {
  const folder = dirname(pattern);
  const files = readdirSync(folder).map((name) => join(folder, name));
  return files
    .filter((file) => matches(file, pattern))
    .flatMap((file) => {
      const first = 1 + (basename(file).length % every);
      const count = readFileSync(file, 'utf8').split('\n').length;
      return Array.from({ length: Math.ceil((count - first + 1) / every) }, (_, i) => {
        const line = first + i * every;
        return `${file}:${line}:0-${line}:999`;
      });
    });
}

const results = [];
for (const { name, subject, mutate } of jobs) {
  process.env.PAVM_MUTANTS = subject;
  const tester = new Stryker({
    mutate: every > 1 ? mutate.flatMap(someLines) : mutate,
    // texts are not emptied; what a comparison of texts decides is changed by its operator
    mutator: { excludedMutations: ['StringLiteral'] },
    testRunner: 'in-process',
    plugins: [fileURLToPath(new URL('./runner.mjs', import.meta.url))],
    coverageAnalysis: 'perTest',
    // what runs while a file loads is changed only where a test runs it again: each such mutant would cost the whole suite
    ignoreStatic: true,
    concurrency: 1,
    timeoutMS: 10_000,
    ignorePatterns: ['/.mutants', '/dist', '/cases', '/coverage', '/tests/golden'],
    tempDirName: `.mutants/sandbox-${name}`,
    reporters: ['json', 'progress-append-only'],
    jsonReporter: { fileName: `.mutants/${name}.json` },
    disableTypeChecks: false,
  });
  results.push(...(await tester.runMutationTest()));
}

const CAUGHT = ['Killed', 'Timeout'];
const MISSED = ['Survived', 'NoCoverage'];
const count = (mutants, states) => mutants.filter(({ status }) => states.includes(status)).length;
const fileOf = ({ fileName }) => relative('.', fileName);

const lines = ['| File | Mutants | Caught | Missed | Score |', '| --- | --: | --: | --: | --: |'];
for (const file of [...new Set(results.map(fileOf))].sort())
  lines.push(
    row(
      `\`${file}\``,
      results.filter((mutant) => fileOf(mutant) === file),
    ),
  );
lines.push(row('**All**', results));
for (const mutant of results.filter(({ status }) => MISSED.includes(status))) {
  const { line, column } = mutant.location.start;
  const change = mutant.replacement?.replace(/\s+/g, ' ').slice(0, 100);
  lines.push(`${fileOf(mutant)}:${line}:${column} ${mutant.status} ${mutant.mutatorName}: ${change}`);
}
process.stdout.write(`${lines.join('\n')}\n`);

function row(title, mutants) {
  const [caught, missed] = [count(mutants, CAUGHT), count(mutants, MISSED)];
  const all = caught + missed;
  const score = all === 0 ? '–' : `${((100 * caught) / all).toFixed(1)} %`;
  return `| ${title} | ${all} | ${caught} | ${missed} | ${score} |`;
}
