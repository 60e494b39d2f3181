import { DEFECTS, type Outcome } from './tree-trial.js';

/** Value below which a given fraction of the sorted values lies. */
export const quantile = (sorted: readonly number[], part: number): number =>
  sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))];

const percent = (n: number, of: number, digits = 1): string =>
  of === 0 ? '–' : `${((100 * n) / of).toFixed(digits)} %`;

/** `0.4 / 1.2`: median and 95th percentile of the absolute values. */
function spread(values: readonly number[], digits: number): string {
  const sizes = values.map(Math.abs).sort((a, b) => a - b);
  if (sizes.length === 0) return '–';
  return `${quantile(sizes, 0.5).toFixed(digits)} / ${quantile(sizes, 0.95).toFixed(digits)}`;
}

const HEAD = [
  'Vessels',
  'n',
  'right',
  'warned',
  'stopped',
  'silent',
  'inside',
  'cut, %',
  'in interval',
  'neck error, mm',
  'length error, mm',
];

function row(label: string, of: readonly Outcome[]): string[] {
  const count = (end: Outcome['end']): string => String(of.filter((o) => o.end === end).length);
  const sum = (key: 'asked' | 'inside' | 'known' | 'held'): number =>
    of.reduce((n, o) => n + o.samples[key], 0);
  return [
    label,
    String(of.length),
    count('right'),
    count('warned'),
    count('stopped'),
    count('silent'),
    percent(sum('inside'), sum('asked')),
    spread(
      of.flatMap((o) => o.samples.cutOff.map((x) => 100 * x)),
      2,
    ),
    percent(sum('held'), sum('known')),
    spread(
      of.flatMap((o) => o.neckOffMm ?? []),
      2,
    ),
    spread(
      of.flatMap((o) => o.lengthOffMm ?? []),
      2,
    ),
  ];
}

const isBranch = ({ vessel }: Outcome): boolean => vessel.startsWith('B');

/** Markdown table of the outcomes: stems and branches for each kind of defect, and all; pairs are median / 95th percentile. */
export function sweepTable(outcomes: readonly Outcome[]): string {
  const rows = DEFECTS.flatMap((defect) =>
    [false, true].map((branch) =>
      row(
        `${defect}, ${branch ? 'branches' : 'stems'}`,
        outcomes.filter((o) => o.defect === defect && isBranch(o) === branch),
      ),
    ),
  );
  const apart = outcomes.filter((o) => o.defect !== 'fused neighbour');
  const lines = [
    HEAD,
    HEAD.map(() => '---'),
    ...rows,
    row('all', outcomes),
    row('all without a fused neighbour', apart),
  ];
  return lines.map((cells) => `| ${cells.join(' | ')} |`).join('\n');
}

/** One line for each vessel that is not right. */
export function sweepMisses(outcomes: readonly Outcome[]): string[] {
  return outcomes
    .filter((o) => o.end !== 'right')
    .map(
      (o) =>
        `tree ${o.seed} ${o.vessel}, ${o.defect}, ${o.voxelMm.toFixed(2)} mm, ${o.triangles} triangles: ${o.end}: ${o.why}`,
    );
}
