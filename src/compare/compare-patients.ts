import { fixed } from '../foundation/number-text.js';
import type { PatientResult } from '../result/patient-result.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { type Comparison, compareResults } from './compare.js';
import { SAME_FILES } from './scan-pair.js';
import { CAUTION, type Verdict } from './verdict.js';

/** A patient's result with those of its lesions, by id. */
export interface PatientSide {
  result: PatientResult;
  lesions: Readonly<Record<string, Result>>;
}

/** One lesion in both plans, or in one of them. */
export interface LesionComparison {
  id: string;
  change: 'closed' | 'still open' | 'new' | 'gone' | 'not planned' | 'reopened' | 'still closed';
  comparison?: Comparison;
}

/**
 * Compares two plans of one patient: after a session, which lesions are closed, how much shunt remains, and whether the other sessions are
 * still valid.
 */
export interface PatientComparison {
  format: 'pavm-patient-compare/1';
  old: { patient: string; scanDate?: string };
  new: { patient: string; scanDate?: string };
  verdict: Verdict['verdict'];
  because: string[];
  lesions: LesionComparison[];
  shunt: string;
  /** Sessions of the old plan with their present state. */
  sessions: { number: number; closes: string[]; state: 'done' | 'stands' | 'changed' }[];
}

/**
 * Compares two results of one patient. Lesions are matched by their ids; each lesion that is open in both plans is compared on its own.
 * Pure.
 */
export function comparePatients(
  old: PatientSide,
  now: PatientSide,
  options: { rules: Rules; treated?: boolean },
): PatientComparison {
  const ids = [...new Set([...Object.keys(old.result.lesions), ...Object.keys(now.result.lesions)])];
  const lesions = ids.map((id): LesionComparison => {
    const [before, after] = [old.result.lesions[id], now.result.lesions[id]];
    if (before === undefined) return { id, change: 'new' };
    if (after === undefined) return { id, change: 'gone' };
    if (before.state === 'not planned' || after.state === 'not planned') return { id, change: 'not planned' };
    const states = `${before.state} ${after.state}`;
    if (states === 'open closed') return { id, change: 'closed' };
    if (states === 'closed closed') return { id, change: 'still closed' };
    if (states === 'closed open') return { id, change: 'reopened' };
    const [a, b] = [old.lesions[id], now.lesions[id]];
    return { id, change: 'still open', ...(a && b && { comparison: compareResults(a, b, options) }) };
  });
  const sessions = old.result.sessions.map(({ number, closes }) => ({
    number,
    closes,
    state: stateOf(closes, [old.result, now.result], lesions, options.treated),
  }));
  const because = reasons(old.result, now.result, lesions, sessions);
  const isSame = inputsOf(old.result) === inputsOf(now.result);
  const cautions = [
    ...lesions.flatMap((lesion) => cautionsOf(lesion, isSame)),
    ...lesions
      .filter(({ change }) => change === 'closed')
      .map(({ id }) => closedCaution(id, old, now, options)),
    ...(isSame ? [`${CAUTION}Both plans use the same files.`] : []),
  ];
  return {
    format: 'pavm-patient-compare/1',
    old: side(old.result),
    new: side(now.result),
    verdict: because.length === 0 ? 'plan stands' : 'plan changes',
    because: [...because, ...cautions],
    lesions,
    shunt: shuntText(old.result, now.result),
    sessions,
  };
}

const inputsOf = ({ inputs }: PatientResult): string =>
  JSON.stringify(inputs.map(({ path, sha256 }) => [path, sha256]).sort());

const side = ({ patient, scan_date }: PatientResult): PatientComparison['old'] => ({
  patient,
  ...(scan_date !== undefined && { scanDate: scan_date }),
});

/** The cautions of one lesion that do not change the plan; files that both plans share are reported once for the patient. */
const cautionsOf = ({ id, comparison }: LesionComparison, isSame: boolean): string[] =>
  (comparison?.because ?? [])
    .filter((text) => text.startsWith(CAUTION) && !(isSame && text === CAUTION + SAME_FILES))
    .map((text) => `${CAUTION}${id}: ${text.slice(CAUTION.length)}`);

/**
 * A statement that a lesion counts as closed because its case names no feeder, with its shrinkage: unlike the shunt, the shrinkage is that
 * of this lesion alone.
 */
function closedCaution(
  id: string,
  old: PatientSide,
  now: PatientSide,
  options: { rules: Rules; treated?: boolean },
): string {
  const [a, b] = [old.lesions[id], now.lesions[id]];
  const shrinkage = a && b && compareResults(a, b, { ...options, treated: true }).shrinkage;
  const shrunk = shrinkage === undefined ? 'The shrinkage is not known.' : shrinkage.text;
  return `${CAUTION}${id} counts as closed because its new case states a treatment and names no feeding artery. Absence from the model does not prove closure. ${shrunk}`;
}

/**
 * A session is done if a treatment is stated and the new plan shows that none of its feeders is open. It is still valid if the new plan
 * closes the same feeders in one session. Feeders are given by their new names.
 */
function stateOf(
  closes: readonly string[],
  [old, now]: readonly [PatientResult, PatientResult],
  lesions: readonly LesionComparison[],
  treated: boolean | undefined,
): 'done' | 'stands' | 'changed' {
  const names = closes.map((name) => nameNow(name, lesions));
  const isDone = (name: string, n: number): boolean => {
    const [before, after] = [old, now].map(({ lesions: all }) => all[name.split('/')[0]]);
    if (!isInNoSession(names[n], now)) return false;
    if (after?.state === 'closed') return true;
    // without a treatment, a missing feeder may simply have been left out
    const isTreated = treated === true || (after?.treated !== undefined && after.treated !== before?.treated);
    return isTreated && isClosed(names[n], after);
  };
  if (closes.every(isDone)) return 'done';
  const same = now.sessions.some(
    (session) =>
      session.closes.length === names.length &&
      names.every((name) => name !== undefined && session.closes.includes(name)),
  );
  return same ? 'stands' : 'changed';
}

/** The name of an old feeder in the new plan; undefined if its lesion was compared and the feeder is no longer seen. */
function nameNow(name: string, lesions: readonly LesionComparison[]): string | undefined {
  const [lesion, ...vessel] = name.split('/');
  const compared = lesions.find(({ id }) => id === lesion)?.comparison;
  const match = compared?.vessels.find(({ oldName }) => oldName === vessel.join('/'));
  if (match === undefined) return name;
  return match.newName === undefined ? undefined : `${lesion}/${match.newName}`;
}

/**
 * Whether a treated lesion shows that a feeder is not open. A lesion that is missing or was not planned shows nothing, nor does one with a
 * feeder that was not measured, which may be the missing one.
 */
function isClosed(
  newName: string | undefined,
  lesion: PatientResult['lesions'][string] | undefined,
): boolean {
  if (lesion?.feeders === undefined || (lesion.feeder_count ?? 0) > lesion.feeders.length) return false;
  return newName === undefined || !lesion.feeders.includes(newName);
}

const isInNoSession = (name: string | undefined, { sessions }: PatientResult): boolean =>
  name === undefined || !sessions.some(({ closes }) => closes.includes(name));

function reasons(
  old: PatientResult,
  now: PatientResult,
  lesions: readonly LesionComparison[],
  sessions: PatientComparison['sessions'],
): string[] {
  const said: string[] = [];
  for (const { id, change, comparison } of lesions) {
    if (change === 'new') said.push(`${id} is new: it was in no surface before.`);
    if (change === 'gone') said.push(`${id} is not in the new plan.`);
    if (change === 'not planned') said.push(`${id} could not be planned on both scans.`);
    if (change === 'reopened') said.push(`${id} was closed and is open again.`);
    if (change === 'still open' && comparison === undefined) said.push(...uncomparedText(id, old, now));
    for (const text of comparison?.because ?? []) if (!text.startsWith(CAUTION)) said.push(`${id}: ${text}`);
  }
  for (const { number, closes, state } of sessions)
    if (state === 'changed')
      said.push(
        `Session ${number} of the old plan (${closes.join(', ')}) is not one session of the new one.${missingText(closes, lesions)}`,
      );
  if (old.advice.recommended !== now.advice.recommended)
    said.push(`The advice was ${old.advice.recommended} and is ${now.advice.recommended}.`);
  if (old.remainder !== now.remainder)
    said.push(`The remainder was ${old.remainder} and is ${now.remainder}.`);
  for (const [vessel, { code }] of Object.entries(old.devices)) {
    const name = nameNow(vessel, lesions);
    const other = name === undefined ? undefined : now.devices[name];
    if (other && other.code !== code)
      said.push(`${vessel}: the device was ${code ?? 'none'} and is ${other.code ?? 'none'}.`);
  }
  const stops = now.findings.filter(
    (one) =>
      one.level === 'stop' && !old.findings.some(({ id, where }) => id === one.id && where === one.where),
  );
  said.push(...stops.map(({ where, text }) => `New stop on ${where}: ${text}`));
  return [...new Set(said)];
}

/** Names the feeders that an open lesion no longer lists, if its own results are not available for matching vessels by place. */
function uncomparedText(id: string, old: PatientResult, now: PatientResult): string[] {
  const [before, after] = [old, now].map(({ lesions }) => lesions[id].feeders);
  const missing = before?.filter((name) => after !== undefined && !after.includes(name)) ?? [];
  if (missing.length === 0) return [];
  return [
    `${id}: ${missing.join(', ')} not among the open feeders any more (${before?.length} before, ${after?.length} now). Absence does not prove closure: look on the images, or plan both again to match vessels by place.`,
  ];
}

function missingText(closes: readonly string[], lesions: readonly LesionComparison[]): string {
  const missing = closes.filter((name) => nameNow(name, lesions) === undefined);
  if (missing.length === 0) return '';
  return ` Not measured on the new scan, and not taken for closed: ${missing.join(', ')}. If it was closed, state lesion.treated in its case (or --treated); else look for it on the images.`;
}

function shuntText(old: PatientResult, now: PatientResult): string {
  const shuntOf = (one: PatientResult) => (one.baseline === 'after' ? one.shunt_after : one.shunt);
  const [a, b] = [shuntOf(old), shuntOf(now)];
  if (a?.fraction === undefined || b?.fraction === undefined)
    return 'No trend of the shunt: one of the plans has none.';
  const percent = (fraction: number): string => `${fixed(100 * fraction, 1)} %`;
  if (a.method !== b.method)
    return `Shunt ${percent(a.fraction)} and ${percent(b.fraction)}, by different methods: no trend.`;
  const open = Object.entries(now.lesions).filter(([, { state }]) => state === 'open');
  const where =
    open.length === 0
      ? 'no lesion of the file is open'
      : open
          .map(([id, { flow_share: share, flow_share_is: most }]) =>
            share === undefined ? id : `${id} ${most ? 'at most ' : ''}${fixed(100 * share, 0)} %`,
          )
          .join(', ');
  const rest =
    now.remainder === 'none' ? '' : '; the rest runs, or may run, through lesions that no surface holds';
  return `Shunt ${percent(a.fraction)} before, ${percent(b.fraction)} now. Of what is left: ${where}${rest}.`;
}
