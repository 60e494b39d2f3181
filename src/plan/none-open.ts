import type { Case } from '../case/case.js';
import { listedStructures } from '../case/listed-structures.js';

/** Whether the case says that the lesion was treated, by the date or by a blood gas after treatment. */
export const isTreated = ({ lesion, gases }: Case): boolean =>
  lesion.treated !== undefined || gases.some(({ when }) => when === 'after');

/** Whether the lesion was treated and its surfaces name no feeding artery, pulmonary or systemic. False without surfaces. */
export function isNoneOpen(patientCase: Case): boolean {
  const structures = listedStructures(patientCase);
  return (
    isTreated(patientCase) &&
    structures !== undefined &&
    !structures.some(({ role }) => role === 'feeder' || role === 'systemic-feeder')
  );
}
