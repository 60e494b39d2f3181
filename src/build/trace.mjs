// For every field of result.json, of a case and of a patient: formula, file, source and test, from trace.yaml next to the schemas. With
// --write: writes trace.md. Without: fails if the committed page differs. Both fail if a field has no line or two, or if a line names a
// function, a source or a test that does not exist.
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { parse } from 'yaml';

const FOLDER = 'src/result';
const PAGE = `${FOLDER}/trace.md`;

/** Sources that are neither a publication nor a rule. */
const KINDS = {
  input: 'copied from the case, the shelf, the scan or the command line',
  definition: 'a definition of this tool',
  simulation: 'a simulation of this project, described in the file',
  'common practice': 'common practice, no source',
};

/** Paths of all fields of a schema that hold a value: `*` stands for any name, `[]` for any element. */
export function fieldsOf(schema) {
  const fields = [];
  const walk = (given, path) => {
    const node = given.$ref ? schema.$defs[given.$ref.split('/').at(-1)] : given;
    const rest = typeof node.additionalProperties === 'object' ? { '*': node.additionalProperties } : {};
    const inner = { ...node.properties, ...rest };
    const items = node.items?.$ref ? schema.$defs[node.items.$ref.split('/').at(-1)] : node.items;
    if (Object.keys(inner).length > 0)
      for (const [key, value] of Object.entries(inner)) walk(value, path === '' ? key : `${path}.${key}`);
    else if (items?.properties) walk(items, `${path}[]`);
    else fields.push(path);
  };
  walk(schema, '');
  return fields;
}

/** `a.{b,c}` as `a.b` and `a.c`. */
export function unfolded(pattern) {
  const found = /^(.*?)\{([^}]*)\}(.*)$/.exec(pattern);
  if (!found) return [pattern];
  const [, before, words, after] = found;
  return words.split(',').flatMap((word) => unfolded(before + word.trim() + after));
}

/** Faults in the lines of the trace, as whole sentences; empty if there are none. `read` returns a file's text or undefined. */
export function problemsOf(lines, fields, { read, sources, rules }) {
  const problems = [];
  const seen = new Map(fields.map((field) => [field, 0]));
  for (const line of lines) {
    const name = line.fields?.[0] ?? '(a line without fields)';
    for (const part of ['fields', 'formula', 'file', 'source', 'tests'])
      if (!line[part]?.length) problems.push(`${name}: no ${part}.`);
    for (const field of (line.fields ?? []).flatMap(unfolded)) {
      if (!seen.has(field)) problems.push(`${field}: the schema has no such field.`);
      else seen.set(field, seen.get(field) + 1);
    }
    const [path, symbol] = (line.file ?? '').split('#');
    const text = read(`src/${path}`);
    if (text === undefined) problems.push(`${name}: there is no file src/${path}.`);
    else if (!new RegExp(`\\b(?:function|const)\\s+${symbol}\\b`).test(text))
      problems.push(`${name}: src/${path} has no ${symbol}.`);
    for (const source of line.source ?? [])
      if (!(source in KINDS) && !sources.has(source) && !rules.has(source))
        problems.push(
          `${name}: ${source} is neither a source, nor a rule, nor one of ${Object.keys(KINDS).join(', ')}.`,
        );
    const wrong = (line.tests ?? []).flatMap((test) => problemsOfTest(name, test, read));
    problems.push(...wrong);
    const texts = (line.tests ?? []).map((test) => read(`tests/${test.split(': ')[0]}.test.ts`) ?? '');
    for (const field of wrong.length > 0 ? [] : (line.fields ?? []).flatMap(unfolded))
      if (!texts.some((text) => namesIn(text, field)))
        problems.push(
          `${field}: none of its tests speaks of it, as ${keyOf(field)} or in the words of the code.`,
        );
  }
  for (const [field, count] of seen) {
    if (count === 0)
      problems.push(
        `${field}: no line says where it comes from. Add it to ${FOLDER}/trace.yaml: formula, file, source, tests.`,
      );
    if (count > 1) problems.push(`${field}: ${count} lines claim it.`);
  }
  return problems;
}

/** Last key of a field; for `a.*` it is `a`. */
const keyOf = (field) => field.replaceAll('.*', '').split('.').at(-1).replaceAll('[]', '');

/** Whether a test names a field by its key, as `at_mm` or as `atMm`. */
const namesIn = (text, field) =>
  new RegExp(`\\b(?:${keyOf(field)}|${keyOf(field).replaceAll('_', '')})\\b`, 'i').test(text);

/** The file of a test must contain the titles, in their order, at the start of a test or a block of tests. */
export function problemsOfTest(name, test, read) {
  const [, path, title] = /^(\S+): (.+)$/s.exec(test) ?? [];
  if (path === undefined) return [`${name}: "${test}" is no test; write "folder/file: title".`];
  const text = read(`tests/${path}.test.ts`);
  if (text === undefined) return [`${name}: there is no file tests/${path}.test.ts.`];
  let from = 0;
  for (const part of title.split(' > ')) {
    const at = ["'", '"', '`']
      .map((mark) => text.indexOf(`${mark}${part}${mark}`, from))
      .filter((i) => i >= 0);
    if (at.length === 0) return [`${name}: tests/${path}.test.ts has no test "${title}".`];
    from = Math.min(...at);
  }
  return [];
}

/** The page: one table for each block of a result, a row for each line of the trace; first a case's, then a patient's. */
export function pageOf({ lines, patientLines, shared }) {
  const out = [
    '# Where every field of `result.json` comes from',
    '',
    'Written by `npm run trace` from `trace.yaml` beside the schema; it fails where a field of the schema has no line, or a line names a function, a source or a test that does not exist. The result of a patient with several lesions stands [below](#the-result-of-a-patient); that of each of the lesions is that of a case. Not a medical device: check every number on the source images; local protocols and each device’s instructions for use come first.',
    '',
    `In the repository files lie below \`src\`, tests below \`tests\`; \`{a,b}\` stands for both, \`*\` for any name, \`[]\` for any element. A source is a publication of \`src/reference/sources.ts\`, a rule of \`src/rules\` (which has its own), or one of: ${Object.entries(
      KINDS,
    )
      .map(([kind, meaning]) => `*${kind}* (${meaning})`)
      .join(', ')}.`,
  ];
  out.push(...tablesOf(lines, '##'));
  out.push(
    '',
    '## The result of a patient',
    '',
    `\`pavm-patient-result/1\` of a patient file. ${shared.map((key) => `\`${key}\``).join(', ')} are as in the tables above, over all lesions, with feeders as \`LESION/NAME\`; a test holds the numbers of one lesion given as a patient against those of the same lesion given as a case. The fields of its own:`,
    ...tablesOf(patientLines, '###'),
  );
  return `${out.join('\n')}\n`;
}

const cell = (text) => text.trim().replace(/\s+/g, ' ').replaceAll('|', '\\|');
const code = (text) => `\`${cell(text)}\``;
const blockOf = (line) => /^[a-z_]+/.exec(unfolded(line.fields[0])[0])[0];

/** A table under a heading for each block of lines that begin with the same key. */
function tablesOf(lines, heading) {
  const out = [];
  let block;
  for (const line of lines) {
    if (blockOf(line) !== block) {
      block = blockOf(line);
      out.push(
        '',
        `${heading} ${block}`,
        '',
        '| Field | Formula | File | Source | Test |',
        '| --- | --- | --- | --- | --- |',
      );
    }
    const cells = [
      line.fields.map(code).join('<br>'),
      cell(line.formula),
      code(line.file.replace('#', ': ')),
      line.source.map(cell).join(', '),
      line.tests.map((test) => code(test)).join('<br>'),
    ];
    out.push(`| ${cells.join(' | ')} |`);
  }
  return out;
}

/** The trace of this repository, with everything that it may name. */
export function readTrace() {
  const text = (path) => readFileSync(path, 'utf8');
  const sources = [...text('src/reference/sources.ts').matchAll(/^ {2}'?([\w-]+)'?: \{/gm)].map(
    ([, key]) => key,
  );
  const rules = readdirSync('src/rules')
    .filter((name) => name.endsWith('.yaml'))
    .flatMap((name) => parse(text(`src/rules/${name}`)).rules.map(({ id }) => id));
  const schema = JSON.parse(text(`${FOLDER}/result.schema.json`));
  const ofPatient = JSON.parse(text(`${FOLDER}/patient-result.schema.json`));
  const { trace, patient } = parse(text(`${FOLDER}/trace.yaml`));
  const list = /const OF_RESULT = \[([^\]]*)\]/.exec(text('src/report/result-schema.ts'))[1];
  return {
    lines: trace,
    fields: fieldsOf(schema),
    patientLines: patient,
    patientFields: fieldsOf({ ...ofPatient, $defs: { ...schema.$defs, ...ofPatient.$defs } }),
    shared: [...list.matchAll(/'(\w+)'/g)].map(([, key]) => key),
    known: {
      sources: new Set(sources),
      rules: new Set(rules),
      read: (path) => (existsSync(path) ? text(path) : undefined),
    },
  };
}

if (process.argv[1]?.endsWith('trace.mjs')) {
  const trace = readTrace();
  const { lines, fields, patientLines, patientFields, known } = trace;
  const problems = [
    ...problemsOf(lines, fields, known),
    ...problemsOf(patientLines, patientFields, known).map((problem) => `of a patient: ${problem}`),
  ];
  const page = problems.length === 0 ? pageOf(trace) : '';
  if (problems.length > 0) process.stderr.write(`${problems.join('\n')}\n`);
  else if (process.argv.includes('--write')) writeFileSync(PAGE, page);
  else if (!existsSync(PAGE) || readFileSync(PAGE, 'utf8') !== page)
    problems.push(process.stderr.write(`${PAGE} is not what trace.yaml gives: run npm run trace.\n`));
  process.exitCode = problems.length > 0 ? 1 : 0;
}
