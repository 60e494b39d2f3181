// Joins the built modules into a few files (dist/joined): a start opens a handful instead of a few hundred. The programs' entry files then
// only import these. Data files that the modules read stay where they are.
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { rolldown } from 'rolldown';

const DIST = resolve('dist');
const JOINED = join(DIST, 'joined');
/** Files that are started or imported from outside, with the name of their joined file. */
const ENTRIES = {
  main: 'cli/main.js',
  index: 'index.js',
  'batch-process': 'cli/batch/batch-process.js',
  'side-worker': 'cli/surfaces/side-worker.js',
};
/**
 * Files that are loaded as a whole, and their purpose: they contain the modules that these files import, unless an earlier file contains
 * them. Every other module is in a file with modules that are needed by the same commands.
 */
const TOGETHER = {
  start: ['cli/main.js'],
  // modules for an unchanged case of a batch, without the reader of case files
  base: [
    'rules/rules-in-force.js',
    'rules/source-text.js',
    'case/case-files.js',
    'case/confined-path.js',
    'cli/engine-flags.js',
    'cli/terminal/say-findings.js',
    'foundation/quantity.js',
    'foundation/yaml-limits.js',
  ],
  case: ['cli/commands/check.js', 'physiology/case-shunts.js'],
  batch: ['cli/commands/batch.js'],
  measure: ['mesh/load-surface.js', 'geometry/lesion-of-parts.js'],
  plan: ['cli/commands/plan.js', 'page/page-html.js'],
  figures: ['report/figures/figures.js', 'report/figures/rendered-views.js'],
  print: [
    'print/prepare-print.js',
    'print/print-files.js',
    'report/print-gauges.js',
    'report/figures/gauge-sketch.js',
    'report/figures/model-thumbnail.js',
    'report/gauge-card.js',
  ],
};

const groupOf = new Map();
for (const [name, roots] of Object.entries(TOGETHER))
  for (const root of roots) put(resolve(DIST, root), name);

/** Adds a module and its imports to a group. */
function put(file, name) {
  if (groupOf.has(file) || isLibrary(file)) return;
  groupOf.set(file, name);
  for (const [, path] of readFileSync(file, 'utf8').matchAll(/(?:from|import) ?["'](\.{1,2}\/[^"']+)["']/g))
    put(resolve(dirname(file), path), name);
}

function isLibrary(file) {
  return file.startsWith(join(DIST, 'libraries') + sep);
}

/** Every joined file is one folder below dist: data files are found from there. */
const fromJoined = (file) => relative(JOINED, file).replaceAll('\\', '/');

rmSync(JOINED, { recursive: true, force: true });
const bundle = await rolldown({
  input: Object.fromEntries(Object.entries(ENTRIES).map(([name, file]) => [name, join(DIST, file)])),
  platform: 'node',
  preserveEntrySignatures: 'allow-extension',
  // modules that are loaded together anyway may import each other
  checks: { ineffectiveDynamicImport: false },
  plugins: [
    {
      name: 'places',
      resolveId(id, importer) {
        if (!id.startsWith('.')) return importer ? { id, external: true } : null;
        const file = resolve(dirname(importer), id);
        return isLibrary(file) ? { id: fromJoined(file), external: true } : null;
      },
      transform(code, id) {
        return code.replaceAll('import.meta.url', `new URL('${fromJoined(id)}', import.meta.url).href`);
      },
    },
  ],
});
await bundle.write({
  dir: JOINED,
  format: 'esm',
  entryFileNames: '[name].js',
  chunkFileNames: '[name].js',
  codeSplitting: {
    includeDependenciesRecursively: false,
    groups: [{ debugName: 'together', name: (id) => groupOf.get(id) ?? null }],
  },
  minify: { compress: false, mangle: false, codegen: true },
});
await bundle.close();
for (const [name, file] of Object.entries(ENTRIES)) {
  const up = '../'.repeat(file.split('/').length - 1) || './';
  writeFileSync(join(DIST, file), `export * from '${up}joined/${name}.js';\n`);
}
