import type { Finding } from '../foundation/finding.js';
import type { Result } from '../result/result.generated.js';
import type { LesionPlan } from './patient-basis.js';

/** Findings of the patient file, then those of each lesion; a finding shared by all lesions is given once. */
export function joinedFindings(own: readonly Finding[], lesions: readonly LesionPlan[]): Finding[] {
  const key = ({ id, level, where, text }: Finding): string => JSON.stringify([id, level, where, text]);
  const known = new Set(own.map(key));
  const places = new Set(own.map(({ id, where }) => `${id} ${where}`));
  const counts = new Map<string, number>();
  for (const { result } of lesions)
    for (const one of new Set(result.findings.map(key))) counts.set(one, (counts.get(one) ?? 0) + 1);
  const joined: Finding[] = [...own];
  for (const { id, result } of lesions)
    for (const found of result.findings) {
      const one = key(found);
      // the closure of the patient replaces those of its lesions
      if (known.has(one) || OF_CLOSURE.has(found.id) || places.has(`${found.id} ${id}/${found.where}`))
        continue;
      if (counts.get(one) === lesions.length) {
        joined.push(found);
        known.add(one);
      } else joined.push({ ...found, where: `${id}/${found.where}` });
    }
  return joined;
}

/** Findings of one lesion's closure that the closure of all lesions replaces. */
const OF_CLOSURE: ReadonlySet<string> = new Set([
  'other-lesions',
  'closure-order',
  'missed-feeder',
  'feeder-flow',
  'device-after-planned-date',
]);

type Item = Result['checklist'][number];

/** The checklists of all lesions merged: an item that is the same for all once, otherwise once for each answer, with its lesions. */
export function joinedChecklist(lesions: readonly LesionPlan[]): Item[] {
  const joined = new Map<string, { item: Item; ids: string[] }>();
  for (const { id, result } of lesions)
    for (const item of result.checklist) {
      const key = JSON.stringify([item.id, item.level, item.because]);
      const known = joined.get(key);
      if (known) known.ids.push(id);
      else joined.set(key, { item, ids: [id] });
    }
  const moments = ['planning', 'sign-in', 'time-out', 'sign-out', 'after'];
  const place = ({ moment }: Item): number => moments.indexOf(moment ?? 'planning');
  return [...joined.values()]
    .map(({ item, ids }) =>
      ids.length === lesions.length ? item : { ...item, because: `${ids.join(', ')}: ${item.because}` },
    )
    .sort((a, b) => place(a) - place(b));
}
