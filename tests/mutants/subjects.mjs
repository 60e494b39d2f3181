/** Files of physiology behind the 95 % intervals and the shares of flow. */
const INTERVALS =
  'shunt-interval,closure-draws,closure-state,closure-saturation,shunt-model,feeder-shares,flow-plausibility,flow-network,vessel-resistance,seeded-random,saturation-from-shunt';

/**
 * The arithmetic that the mutation tester changes, by the name that `npm run mutants -- NAME` takes, and the unit tests that
 * must notice. The tests take milliseconds: none starts the program or plans a whole case; those with a text of `without` in
 * their names are left out. Files that only write sentences are not listed.
 */
export const SUBJECTS = {
  intervals: {
    mutate: [`src/physiology/{${INTERVALS}}.ts`],
    tests: [
      'tests/physiology/{closure-edge-cases,shunt-propagation,closure-propagation,flow-network}.test.ts',
    ],
  },
  physiology: {
    mutate: [`src/physiology/!(${INTERVALS.replaceAll(',', '|')}).ts`],
    // what needs thousands of draws is left to `npm test`
    tests: [
      'tests/physiology/{av-difference-by-hand,compute-shunt-by-hand,sample-agreement-by-hand,shunt-inputs,gas-plausibility}.test.ts',
      'tests/physiology/{body-size,body-size-by-hand,circulation-values,closure-sets,dissociation,documentation,gases}.test.ts',
      'tests/physiology/{closure-edge-cases,closure-rows,lung-function,lung-function-by-hand,pulmonary-pressure,pulmonary-pressure-by-hand,shunt-change,visit,visit-by-hand}.test.ts',
    ],
    without: ['closure takes the output of the child', 'normal: mean 0'],
  },
  devices: {
    mutate: ['src/devices/*.ts'],
    tests: ['tests/devices/!(hostile-shelf).test.ts'],
  },
  resection: {
    mutate: ['src/resection/*.ts'],
    tests: ['tests/resection/*.test.ts'],
  },
  plan: {
    mutate: ['src/plan/*.ts'],
    tests: ['tests/plan/*.test.ts'],
  },
  geometry: {
    mutate: ['src/geometry/{landing-zone,neck,uncertainty}.ts'],
    tests: ['tests/geometry/{landing-zone,landing-zone-cross-check,neck-and-branch,interval-terms}.test.ts'],
  },
  compare: {
    mutate: [
      'src/compare/!(comparison-text|comparison-json|lesion-pose|number-words|overlay|patient-text|placed-lesion|scan-pair|working-views).ts',
    ],
    tests: [
      'tests/compare/{changes,compare,comparison,decisions,match-limits,numbers,outcome,patients,placement,rename}.test.ts',
    ],
  },
  pose: {
    mutate: ['src/compare/lesion-pose.ts'],
    tests: ['tests/compare/lesion-pose-by-hand.test.ts'],
  },
  proof: {
    mutate: ['src/print/{agreement,repeatability,slips,tolerance}.ts'],
    tests: ['tests/print/{agreement,slips,proof,proof-arithmetic}.test.ts'],
  },
};

/** `a/{b,c}.ts`, `a/*.ts` and `a/!(b|c).ts`. */
export function matches(name, glob) {
  const pattern = glob
    .replace(/[.+^$]/g, '\\$&')
    .replace(/!\(([^)]*)\)/g, '(?!(?:$1)\\.)[^/]*')
    .replace(/(?<!\])\*/g, '[^/]*')
    .replace(/\{([^}]*)\}/g, (_, names) => `(?:${names.replaceAll(',', '|')})`);
  return new RegExp(`^${pattern}$`).test(name);
}
