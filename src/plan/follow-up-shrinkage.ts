import { fixed, rounded } from '../foundation/number-text.js';
import type { Percent } from '../foundation/unit-types.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** Diameters before and after treatment, mm. */
export interface Shrinkage {
  /** Mean calibre of the draining vein, and its name. */
  veinMm?: { before: number; after: number; name?: string };
  /** Longest diameter of the sac. */
  sacMm?: { before: number; after: number };
}

export interface ShrinkageReading {
  veinPercent?: Percent;
  sacPercent?: Percent;
  reading: 'closed' | 'probably closed' | 'indeterminate' | 'persistence likely';
  text: string;
}

const ORDER: ShrinkageReading['reading'][] = [
  'closed',
  'probably closed',
  'indeterminate',
  'persistence likely',
];

/**
 * Reads the shrinkage of the draining vein and of the sac after treatment; the worse of the two readings counts.
 * Percent of the diameter before. Vein: `shrinkage-success` closed, `vein-shrinkage-closed` probably closed,
 * `vein-shrinkage-open` indeterminate, less: persistence likely. Sac: `shrinkage-success` closed,
 * `sac-shrinkage-suspect` probably closed, less: persistence likely. Sources are with the rules. Undefined without either pair, or if a
 * diameter before is not above 0.
 */
export function readShrinkage(measured: Shrinkage, rules: Rules): ShrinkageReading | undefined {
  const vein = percentOf(measured.veinMm);
  const sac = percentOf(measured.sacMm);
  const success = numberOf(rules, 'shrinkage-success');
  const readings: ShrinkageReading['reading'][] = [];
  if (vein !== undefined) {
    const closed = numberOf(rules, 'vein-shrinkage-closed');
    const open = numberOf(rules, 'vein-shrinkage-open');
    readings.push(
      vein >= success
        ? 'closed'
        : vein > closed
          ? 'probably closed'
          : vein >= open
            ? 'indeterminate'
            : 'persistence likely',
    );
  }
  if (sac !== undefined) {
    const suspect = numberOf(rules, 'sac-shrinkage-suspect');
    readings.push(sac >= success ? 'closed' : sac >= suspect ? 'probably closed' : 'persistence likely');
  }
  if (readings.length === 0) return undefined;
  const reading = readings.reduce((a, b) => (ORDER.indexOf(a) > ORDER.indexOf(b) ? a : b));
  const parts = [
    ...(measured.veinMm === undefined || vein === undefined
      ? []
      : [
          changeText(
            `mean calibre of the draining vein${measured.veinMm.name ? ` ${measured.veinMm.name}` : ''}`,
            vein,
            measured.veinMm,
          ),
        ]),
    ...(measured.sacMm === undefined || sac === undefined
      ? []
      : [changeText('longest diameter of the sac', sac, measured.sacMm)]),
  ];
  const passes = [vein, sac].some((percent) => percent !== undefined && percent >= success);
  const rule = `${passes ? 'meets' : 'fails'} the ${success} % rule`;
  return {
    ...(vein !== undefined && { veinPercent: rounded(vein, 2) }),
    ...(sac !== undefined && { sacPercent: rounded(sac, 2) }),
    reading,
    text: `${capital(parts.join(', '))}: ${reading}, ${rule}. Shrinkage does not replace angiography.`,
  };
}

const capital = (text: string): string => text[0].toUpperCase() + text.slice(1);

function changeText(
  what: string,
  percent: number,
  { before, after }: { before: number; after: number },
): string {
  const size = `${fixed(Math.abs(percent), 1)} % ${percent < 0 ? 'larger' : 'smaller'}`;
  return `${what} ${size} (${fixed(before, 1)} to ${fixed(after, 1)} mm)`;
}

function percentOf(pair: { before: number; after: number } | undefined): number | undefined {
  if (pair === undefined || !(pair.before > 0)) return undefined;
  return (100 * (pair.before - pair.after)) / pair.before;
}
