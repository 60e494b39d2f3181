import { dayNumber } from '../foundation/iso-date.js';
import { fixed } from '../foundation/number-text.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import type { Course } from './feeders.js';
import type { Interval, NumberChange } from './numbers.js';

/** Change per year of one size. */
export interface Growth {
  path: string;
  /** The name of the size. */
  what: string;
  unit: string;
  perYear: number;
  /** 95 %, from the intervals of both scans; undefined if a scan gives none. */
  interval?: Interval;
  text: string;
}

const DAYS_IN_A_YEAR = 365.25;

/** Sizes that grow: the sac, the landing zones and mean calibres of the vessels. */
const SIZES = /^sac\.(longest_mm|volume_ml)$|^vessels\..+\.(landing\.calibre_mm|calibre_mm\.mean)$/;

/** Years from the old to the new scan, negative if they are swapped; undefined if a date is missing or both are the same. */
export function yearsBetween(old: string | undefined, now: string | undefined): number | undefined {
  const [from, to] = [old, now].map((date) => (date === undefined ? undefined : dayNumber(date)));
  if (from === undefined || to === undefined || from === to) return undefined;
  return (to - from) / DAYS_IN_A_YEAR;
}

/** Why there is no growth per year; undefined if there is. A change across a treatment is due to the treatment and is given no rate. */
export function growthAbsentBecause(
  course: Course,
  years: number | undefined,
  areSameSurfaces: boolean,
): string | undefined {
  if (course === 'treated-between')
    return 'the lesion was treated between the two scans, so a change comes from the treatment and is not growth';
  if (areSameSurfaces) return 'both plans use the same surfaces';
  if (years === undefined) return 'two different scan dates are needed';
  return years > 0 ? undefined : 'the old scan is later than the new one';
}

/** Growth per year of every size that both scans give; `years` above 0. */
export function growthOf(numbers: readonly NumberChange[], years: number, rules: Rules): Growth[] {
  const usual = numberOf(rules, 'usual-growth');
  const source = sourceText(rules.byId.get('usual-growth')?.source ?? '');
  return numbers.flatMap(({ path, what, unit, change, combined }): Growth[] => {
    if (change === undefined || !SIZES.test(path)) return [];
    const perYear = change / years;
    const interval: Interval | undefined =
      combined === undefined ? undefined : [(change - combined) / years, (change + combined) / years];
    const sure = interval !== undefined && (interval[0] > 0 || interval[1] < 0);
    const fast = unit === 'mm' && perYear > usual;
    const parts = [
      `${perYear < 0 ? 'shrank' : 'grew'} ${fixed(Math.abs(perYear), 2)} ${unit} a year`,
      interval === undefined
        ? 'no interval is known'
        : sure
          ? 'beyond both intervals'
          : 'not distinguishable from no change',
      ...(fast && sure
        ? [`faster than the ${fixed(usual, 0)} mm a year of published series (${source})`]
        : []),
    ];
    return [{ path, what, unit, perYear, ...(interval && { interval }), text: parts.join('; ') }];
  });
}

/** A time span in words: months below one year. */
export function yearsText(years: number): string {
  return Math.abs(years) < 1 ? `${fixed(years * 12, 1)} months` : `${fixed(years, 2)} years`;
}
