// Fails if an import runs against the layers or in a circle, or if nothing was checked at all.
import { cruise } from 'dependency-cruiser';
import { JOINED_PACKAGES } from './joined.mjs';

const LAYERS = [
  ['foundation'],
  ['reference', 'grid'],
  ['result', 'case', 'mesh', 'rules'],
  ['geometry', 'devices', 'phantoms', 'volume'],
  ['physiology', 'witness'],
  ['resection', 'print', 'proposal'],
  ['plan'],
  ['patient'],
  ['report'],
  ['page', 'grade', 'compare'],
  ['batch'],
  ['cli'],
];

const below = (index) => LAYERS.slice(0, index).flat();
const forbidden = LAYERS.flatMap((folders, index) =>
  folders.map((folder) => ({
    name: `${folder}-looks-down-only`,
    severity: 'error',
    from: { path: `^src/${folder}/` },
    to: {
      path: '^src/',
      pathNot: [`^src/${folder}/`, ...below(index).map((f) => `^src/${f}/`)],
    },
  })),
);
forbidden.push(
  { name: 'no-circles', severity: 'error', from: {}, to: { circular: true } },
  { name: 'no-unknown-module', severity: 'error', from: { path: '^src/' }, to: { couldNotResolve: true } },
  {
    name: 'no-dev-dependency',
    severity: 'error',
    from: { path: '^src/' },
    // joined libraries are in dist
    to: {
      dependencyTypes: ['npm-dev'],
      dependencyTypesNot: ['type-only'],
      pathNot: JOINED_PACKAGES.map((name) => `node_modules/${name}/`),
    },
  },
);

const { output } = await cruise(['src'], {
  ruleSet: { forbidden },
  validate: true,
  tsPreCompilationDeps: true,
  tsConfig: { fileName: 'tsconfig.json' },
  doNotFollow: { path: 'node_modules' },
  exclude: { path: '^src/build/' },
  enhancedResolveOptions: {
    extensions: ['.ts', '.js', '.mjs', '.json'],
    exportsFields: ['exports'],
    conditionNames: ['import', 'require', 'node', 'default'],
  },
});
const { violations, totalCruised, totalDependenciesCruised } = output.summary;
for (const v of violations) process.stderr.write(`${v.rule.name}: ${v.from} -> ${v.to}\n`);
process.stdout.write(
  `${totalCruised} modules, ${totalDependenciesCruised} imports, ${violations.length} against the layers\n`,
);
if (violations.length > 0 || totalCruised < 50 || totalDependenciesCruised < 100) process.exitCode = 1;
