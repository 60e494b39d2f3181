import { fixed } from '../foundation/number-text.js';
import { NOT_CONFIRMED } from '../result/proposal.js';
import { missedFeeders } from '../result/missed-feeders.js';
import type { Result } from '../result/result.generated.js';
import { yearsText } from './growth.js';
import type { VesselMatch } from './match-vessels.js';

/** Remarks on two scans that come before any interpretation of their difference. */
export interface Remarks {
  /** Why the two cannot be compared at all. */
  obstacles: string[];
  /** Cautions that must be read with the verdict. */
  cautions: string[];
  notes: string[];
}

/** The surfaces and other files that both results use, byte for byte, under any name. */
export interface SameFiles {
  /** Paths in the new result, without case and shelf files. */
  surfaces: string[];
  areAllSurfaces: boolean;
  areAllFiles: boolean;
}

const isText = ({ path }: { path: string }): boolean => /\.ya?ml$/i.test(path);

export const SAME_FILES = 'both plans use the same files, byte for byte';

/** The files that two results share, by hash. */
export function sameFiles(old: Result, now: Result): SameFiles {
  const before = new Set(old.inputs.map(({ sha256 }) => sha256));
  const after = new Set(now.inputs.map(({ sha256 }) => sha256));
  const oldSurfaces = old.inputs.filter((input) => !isText(input));
  const newSurfaces = now.inputs.filter((input) => !isText(input));
  const same = newSurfaces.filter(({ sha256 }) => before.has(sha256));
  return {
    surfaces: same.map(({ path }) => path),
    areAllSurfaces:
      same.length > 0 &&
      same.length === newSurfaces.length &&
      oldSurfaces.every(({ sha256 }) => after.has(sha256)),
    areAllFiles:
      before.size > 0 && before.size === after.size && [...before].every((hash) => after.has(hash)),
  };
}

/** Remarks on files, dates, ids, sides, axes, versions and rules of two results. */
export function scanPair(old: Result, now: Result, years: number | undefined): Remarks {
  const cautions: string[] = [];
  const notes: string[] = [];
  const same = sameFiles(old, now);
  if (same.areAllFiles) cautions.push(SAME_FILES);
  else if (same.areAllSurfaces)
    cautions.push(`both plans use the same surfaces, byte for byte${apart(old, now, years)}`);
  else if (same.surfaces.length > 0)
    cautions.push(`the same file in both, byte for byte: ${same.surfaces.join(', ')}`);
  if (years !== undefined && years < 0)
    cautions.push('the old scan is later than the new one: are the two swapped?');
  for (const [which, { proposal }] of [
    ['old', old],
    ['new', now],
  ] as const)
    if (proposal?.confirmed === 'no')
      cautions.push(
        `${NOT_CONFIRMED}: the surface of the ${which} plan was made from the scan, and nobody has confirmed it`,
      );
  for (const key of ['side', 'lobe'] as const) {
    const [a, b] = [old.lesion[key], now.lesion[key]];
    if (a !== undefined && b !== undefined && a !== b)
      cautions.push(`the ${key} differs, ${a} and ${b}: these may be two lesions`);
  }
  for (const [which, { missed }] of [
    ['old', old],
    ['new', now],
  ] as const) {
    const found = missedFeeders(missed);
    if (found.length > 0) cautions.push(missedText(which, found));
  }
  const say = (holds: boolean, text: string): void => {
    if (holds) notes.push(text);
  };
  say(
    old.case !== now.case,
    `The case ids differ: ${old.case} and ${now.case}. Make sure that this is one patient and one lesion.`,
  );
  say(
    old.scan_date === undefined || now.scan_date === undefined,
    'A scan date is missing: no growth per year is computed.',
  );
  say(
    old.tool.version !== now.tool.version,
    `The program's versions differ: ${old.tool.version} and ${now.tool.version}. Plan the old case again to be sure that a change comes from the lesion.`,
  );
  say(
    old.tool.rule_set !== now.tool.rule_set,
    'The rule sets differ: a decision may have changed because of its rule. Plan the old case again with the present rules.',
  );
  return { obstacles: [], cautions, notes: [...notes, ...axesNote(old, now)] };
}

/** Vessels missing from one plan cannot be compared, and may be those that are new in the other. */
function missedText(which: 'old' | 'new', found: NonNullable<Result['missed']>): string {
  const each = found
    .map(
      ({ joins, calibre_mm: mm }) =>
        `${fixed(mm, 1)} mm wide, joining ${joins === 'sac' ? 'the sac' : joins}`,
    )
    .join('; ');
  return `the ${which} scan shows ${found.length === 1 ? 'an opacified vessel that lies' : `${found.length} opacified vessels that lie`} in no surface of its plan and may feed the lesion (${each}); not compared`;
}

function apart(old: Result, now: Result, years: number | undefined): string {
  if (years === undefined) return '';
  return `, though the scans are dated ${old.scan_date} and ${now.scan_date}, ${yearsText(Math.abs(years))} apart: the old surfaces were taken for the new scan`;
}

function axesNote(old: Result, now: Result): string[] {
  if (Object.keys(old.vessels).length === 0 || Object.keys(now.vessels).length === 0) return [];
  const [a, b] = [old, now].map(({ frame_axes }) => frame_axes ?? 'unknown');
  if (a === 'unknown' || b === 'unknown')
    return [
      'The patient axes of a scan are unknown, so the turn of the patient between the two cannot be judged.',
    ];
  return a === b ? [] : [`The old plan is in ${a} and the new one in ${b}; both are compared in LPS.`];
}

/** Ratios between length units from a wrong `surfaces.unit`, and the tolerance on them. */
const UNIT_RATIOS = [
  ['cm and mm', 10],
  ['inch and mm', 25.4],
  ['m and mm', 1000],
] as const;
const UNIT_SLACK = 0.15;

/** Detects that all calibres differ by the ratio of two units, which no lesion does. */
export function unitSlip(old: Result, now: Result, matches: readonly VesselMatch[]): string | undefined {
  const ratios = matches.flatMap(({ oldName, newName }) =>
    oldName === undefined || newName === undefined
      ? []
      : [now.vessels[newName].calibre_mm.mean / old.vessels[oldName].calibre_mm.mean],
  );
  if (ratios.length === 0) return undefined;
  const slip = UNIT_RATIOS.find(([, factor]) =>
    ratios.every((ratio) => Math.abs(Math.log(ratio > 1 ? ratio / factor : ratio * factor)) < UNIT_SLACK),
  );
  return (
    slip &&
    `every calibre differs by a factor of about ${slip[1]}, as between ${slip[0]}; check surfaces.unit of both cases`
  );
}
