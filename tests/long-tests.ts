/** Longer trials and sweeps run with PAVM_LONG=1. */
export const IS_LONG = process.env.PAVM_LONG === '1';

/**
 * Test files that `npm test` leaves to `npm run test:long`: whole commands, interrupted runs, full disks, browsers, slicers and
 * prints, each of them many seconds long. What guards a number of the result stays in `npm test`.
 */
export const LONG_TESTS = [
  'batch/container-examples',
  'batch/examples',
  'case/fuzz',
  'cli/batch',
  'cli/batch-many',
  'cli/batch-stopped',
  'cli/compare',
  'cli/compare-placement',
  'cli/extreme-inputs',
  'cli/foreign-input',
  'cli/from-scan',
  'cli/grade',
  'cli/labels',
  'cli/left-out',
  'cli/lesion-in-tree',
  'cli/local-rules',
  'cli/loose-pieces',
  'cli/mend',
  'cli/output-folder',
  'cli/output-whole',
  'cli/patient',
  'cli/plan-closed',
  'cli/plan-limits',
  'cli/print',
  'cli/print-given-up',
  'cli/proof',
  'cli/proof-surface',
  'cli/scan',
  'cli/scan-pictures',
  'cli/side-work',
  'cli/treated-case',
  'cli/unnamed-ends',
  'cli/wall',
  'cli/witness',
  'compare/compare-scans',
  'compare/overlay',
  'docs/readme',
  'fuzz/fuzz',
  'geometry/ends-of',
  'geometry/register/register-surfaces',
  'page/page-html',
  'page/plan-command',
  'page/viewer',
  'phantoms/implicit',
  'phantoms/lesion',
  'print/broken-surfaces',
  'print/cut',
  'print/encapsulated-stl',
  'print/every-case',
  'print/hollow',
  'print/many-faults',
  'print/prepare-print',
  'print/proof-power',
  'print/readiness',
  'print/slicer',
  'print/struts',
  'print/three-mf',
  'report/rendered-views',
  'sweep/doubts',
  'sweep/tree-cuts',
  'sweep/trees',
  'witness/missed',
].map((name) => `tests/${name}.test.ts`);

/**
 * Files of `npm test` that replace a module (`vi.mock`). Each has a process of its own: the other files share loaded modules, of which
 * the first one stays.
 */
export const REPLACING_TESTS = ['cases/teaching-cases', 'cases/teaching-patients', 'cli/plan-extent'].map(
  (name) => `tests/${name}.test.ts`,
);
