import type { Patient } from '../case/case.js';
import { rounded } from '../foundation/number-text.js';
import { countResection, segmentsLeft } from '../physiology/resection-count.js';
import { isNoneOpen } from '../plan/none-open.js';
import type { PatientResult } from '../result/patient-result.js';
import type { LesionPlan } from './patient-basis.js';

/**
 * Lung function if every open lesion were resected by its plan B; a segment in two plans counts once.
 *
 * Formula   as for one resection: predicted = measured · left/working, of 19 segments
 * Source    BTS/SCTS, Thorax 2001;56:89 [bts-scts-2001, from memory]
 * Absent if a lesion cannot be counted: `absent_because`
 */
export function resectionOfAll(
  lesions: readonly LesionPlan[],
  { fev1Percent, dlcoPercent }: Patient['spirometry'],
): PatientResult['resection_all'] {
  const open = lesions.filter(({ case: patientCase }) => !isNoneOpen(patientCase));
  if (open.length === 0) return undefined;
  const ids = open.map(({ id }) => id);
  const taken = new Set<string>();
  const obstructed = new Set<string>();
  for (const { id, case: patientCase } of open) {
    const count = countResection(patientCase.lesion, patientCase.surgery);
    if ('absentBecause' in count) return { lesions: ids, absent_because: `${id}: ${count.absentBecause}` };
    for (const segment of count.taken) taken.add(`${count.side} ${segment}`);
    for (const segment of count.obstructed) obstructed.add(`${count.side} ${segment}`);
  }
  const { working, left } = segmentsLeft([...taken], [...obstructed]);
  const predicted = (value: number | undefined): number | undefined =>
    value === undefined ? undefined : rounded((value * left) / working, 3);
  return {
    lesions: ids,
    working_segments: working,
    left_segments: left,
    predicted_fev1_percent: predicted(fev1Percent),
    predicted_dlco_percent: predicted(dlcoPercent),
  };
}
