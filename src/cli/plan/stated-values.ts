import type { Case } from '../../case/case.js';
import { fixed } from '../../foundation/number-text.js';
import type { ReportedValue } from '../../report/plan.js';

/** The inputs that plan.md lists with the results: measurements on the patient, as stated in the case. */
export function statedValues(patientCase: Case): ReportedValue[] {
  const values: ReportedValue[] = [];
  const add = (
    what: string,
    value: number | undefined,
    digits: number,
    unit: string,
    kind: ReportedValue['kind'] = 'measured',
  ): void => {
    if (value !== undefined) values.push({ what, value: `${fixed(value, digits)} ${unit}`.trim(), kind });
  };
  const { blood, circulation, patient, scan } = patientCase;
  add('Age', patient.ageYears, 0, 'years', 'stated');
  add('Weight', patient.weightKg, 1, 'kg', 'stated');
  add('Haemoglobin', blood.haemoglobinGDl, 1, 'g/dL');
  add('Haematocrit', blood.haematocritFraction && blood.haematocritFraction * 100, 0, '%');
  for (const gas of patientCase.gases) values.push(sampleValue(gas));
  add('Cardiac output', circulation.cardiacOutputLMin, 1, 'L/min');
  add('Mean PA pressure', circulation.meanPaPressureMmHg, 0, 'mmHg');
  add('Wedge pressure', circulation.wedgePressureMmHg, 0, 'mmHg');
  add('FEV1', patient.spirometry.fev1L, 2, 'L');
  add('FEV1', patient.spirometry.fev1Percent, 0, '% of predicted');
  add('DLCO', patient.spirometry.dlcoPercent, 0, '% of predicted');
  add('Slice thickness', scan.sliceThicknessMm, 2, 'mm', 'stated');
  add('In-plane spacing', scan.inPlaneMm, 2, 'mm', 'stated');
  return values;
}

/** One blood gas as one entry; the inspired oxygen is stated, the rest measured. */
function sampleValue(gas: Case['gases'][number]): ReportedValue {
  const part = (what: string, value: number | undefined, digits: number, unit = ''): string[] =>
    value === undefined ? [] : [`${what} ${fixed(value, digits)}${unit && ` ${unit}`}`];
  const value = [
    ...part('FiO2', gas.fio2, 2).map((text) => `${text} (s)`),
    ...part('PO2', gas.po2MmHg, 0, 'mmHg'),
    ...part('PCO2', gas.pco2MmHg, 0, 'mmHg'),
    ...part('pH', gas.ph, 2),
    ...part('co-oximetry', gas.so2Fraction && gas.so2Fraction * 100, 1, '%'),
  ].join(', ');
  return { what: `Sample ${gas.name}, ${gas.site}:`, value, kind: 'measured' };
}
