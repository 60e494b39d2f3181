import { expect, it } from 'vitest';
import { DEFECTS, type Outcome, tryTree } from './tree-trial.js';

/** Trees of the sweep; a few in the tests, 200 with `npm run sweep`. */
const TREES = Number(process.env.PAVM_TREES ?? 2);
const SEED = Number(process.env.PAVM_SEED ?? 1);

it('vessels of grown trees are right or stopped by name', { timeout: 3_600_000 }, () => {
  const outcomes: Outcome[] = [];
  for (let i = 0; i < TREES; i++)
    outcomes.push(
      ...tryTree(SEED + i, DEFECTS[i % DEFECTS.length], {
        forks: TREES > 2 ? 2 + (Math.floor(i / DEFECTS.length) % 2) : 1,
        twigs: i % 4 >= 2,
        subdivided: i % 100 === 99 ? 3 : i % 35 === 34 ? 2 : i % 7 === 6 ? 1 : 0,
      }),
    );
  const share = (n: number, of: number): string => `${n} (${((100 * n) / of).toFixed(0)} %)`;
  const kinds = DEFECTS.flatMap((defect) => [
    { defect, what: 'stems', isBranch: false },
    { defect, what: 'branches', isBranch: true },
  ]);
  const rows = kinds.flatMap(({ defect, what, isBranch }) => {
    const of = outcomes.filter((o) => o.defect === defect && o.vessel.startsWith('B') === isBranch);
    if (of.length === 0) return [];
    const count = (end: Outcome['end']): string => share(of.filter((o) => o.end === end).length, of.length);
    const sum = (key: keyof Outcome['samples']): number => of.reduce((n, o) => n + o.samples[key], 0);
    const part = (key: keyof Outcome['samples']): string =>
      `${((100 * sum(key)) / sum('asked')).toFixed(1)} %`;
    return [
      `${defect}: ${of.length} ${what}, right ${count('right')}, named ${count('named')}, silent ${count('silent')}; ` +
        `inside ${part('inside')}, as cut ${part('asCut')}, in interval ${part('inInterval')}`,
    ];
  });
  const told = outcomes.filter((o) => o.end !== 'right');
  console.log(
    [
      ...rows,
      ...told.map(
        (o) =>
          `tree ${o.seed} ${o.vessel}, ${o.defect}, ${o.voxelMm.toFixed(2)} mm, ${o.triangles} triangles: ${o.end}: ${o.why}`,
      ),
    ].join('\n'),
  );
  const silent = outcomes.filter((o) => o.end === 'silent').map((o) => `${o.seed} ${o.vessel}: ${o.why}`);
  expect(silent.length, silent.join('\n')).toBeLessThanOrEqual(0.01 * outcomes.length);
  for (const o of outcomes) expect(o.samples.inside, `inside, ${o.seed} ${o.vessel}`).toBe(o.samples.asked);
});
