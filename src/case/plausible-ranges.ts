import { COMMON_PRACTICE } from '../reference/sources.js';

/**
 * Ranges that detect wrong units and typing errors: a value outside them fits no patient (or device), and the file is rejected. They are
 * deliberately wide; clinical limits are in the rules. Both ends belong to the range.
 */
export interface PlausibleRange {
  /** Path with `[]` for any list index. */
  path: string;
  low: number;
  high: number;
  /** Unit of the limits; the unit that the schema keeps the value in. */
  unit: string;
  /** The likely mistake, stated if the value is below or above. */
  ifBelow?: string;
  ifAbove?: string;
  source: string;
}

const range = (
  path: string,
  low: number,
  high: number,
  unit: string,
  slips: { ifBelow?: string; ifAbove?: string } = {},
): PlausibleRange => ({ path, low, high, unit, ...slips, source: COMMON_PRACTICE });

const looksLike = (unit: string): string => `The number looks like ${unit}: check the unit.`;

export const CASE_RANGES: readonly PlausibleRange[] = [
  range('scan.slice_thickness', 0.05, 20, 'mm', { ifBelow: looksLike('cm'), ifAbove: looksLike('um') }),
  range('scan.in_plane', 0.05, 5, 'mm', { ifBelow: looksLike('cm'), ifAbove: looksLike('um') }),
  range('patient.age', 0, 120, 'y', { ifAbove: looksLike('months') }),
  range('patient.weight', 0.3, 400, 'kg', { ifAbove: looksLike('g or lb') }),
  range('patient.height', 20, 260, 'cm', { ifBelow: looksLike('m'), ifAbove: looksLike('mm') }),
  range('patient.gestation', 0, 45, 'wk', { ifAbove: looksLike('days') }),
  range('patient.egfr', 0, 250, 'mL/min/1.73m2'),
  range('patient.creatinine', 8, 3000, 'umol/L', { ifBelow: looksLike('mg/dL') }),
  range('patient.oximetry.lying', 0.3, 1, 'fraction', { ifBelow: looksLike('a fraction of 1') }),
  range('patient.oximetry.standing', 0.3, 1, 'fraction', { ifBelow: looksLike('a fraction of 1') }),
  range('patient.heart_rate', 20, 300, '/min'),
  range('patient.spirometry.fev1', 0.1, 10, 'L', { ifAbove: looksLike('mL') }),
  range('patient.spirometry.fev1_percent', 5, 200, '%', { ifBelow: looksLike('a fraction of 1') }),
  range('patient.spirometry.dlco_percent', 5, 200, '%', { ifBelow: looksLike('a fraction of 1') }),
  range('blood.haemoglobin', 2, 30, 'g/dL', {
    ifBelow: looksLike('g/dL or mmol/L'),
    ifAbove: looksLike('g/L'),
  }),
  range('blood.haematocrit', 0.05, 0.85, 'fraction', { ifBelow: looksLike('a fraction of 1') }),
  range('blood.ferritin', 0, 100000, 'ug/L'),
  range('blood.transferrin_saturation', 0, 1, 'fraction'),
  range('gases[].fio2', 0.21, 1, '', { ifAbove: 'It is a fraction: write 1.0 for 100 %.' }),
  range('gases[].minutes_on_oxygen', 0, 1440, 'min'),
  // Deliberately wide: a value in a wrong unit is judged with the whole sample, as a finding.
  range('gases[].po2', 1, 6000, 'mmHg', { ifBelow: looksLike('kPa'), ifAbove: looksLike('mmHg') }),
  range('gases[].pco2', 8, 200, 'mmHg', { ifBelow: looksLike('kPa'), ifAbove: looksLike('mmHg') }),
  range('gases[].ph', 6.5, 8, ''),
  range('gases[].so2', 0.1, 1, 'fraction', { ifBelow: looksLike('a fraction of 1') }),
  range('gases[].temperature', 25, 43, 'degC', { ifAbove: looksLike('degF') }),
  range('gases[].altitude', -430, 6000, 'm', { ifAbove: looksLike('ft') }),
  range('gases[].pressure', 330, 850, 'mmHg', { ifBelow: looksLike('kPa'), ifAbove: looksLike('hPa') }),
  range('circulation.cardiac_output', 0.5, 30, 'L/min', { ifAbove: looksLike('mL/min') }),
  range('circulation.mean_pa_pressure', 2, 150, 'mmHg', { ifBelow: looksLike('kPa') }),
  range('circulation.wedge_pressure', 0, 60, 'mmHg'),
  range('circulation.oxygen_uptake', 20, 5000, 'mL/min', { ifBelow: looksLike('L/min') }),
  range('surfaces.mend', 0.001, 5, 'mm', { ifAbove: looksLike('um') }),
  range('surfaces.drop_below', 0.001, 1000, 'mm3'),
  range('planned.session.contrast_limit', 10, 2000, 'mL', { ifBelow: looksLike('L') }),
  range('planned.session.gap', 0, 730, 'd'),
  range('surgery.leak_test', 1, 100, 'cmH2O', { ifBelow: looksLike('kPa') }),
  range('print.wall', 0.1, 20, 'mm'),
  range('print.build_volume[]', 20, 3000, 'mm', { ifBelow: looksLike('cm') }),
  range('print.cut.at', -5000, 5000, 'mm'),
];

export const SHELF_RANGES: readonly PlausibleRange[] = [
  range('devices[].diameter', 0.5, 60, 'mm', { ifBelow: looksLike('cm'), ifAbove: looksLike('um') }),
  range('devices[].length', 0.5, 3000, 'mm', { ifBelow: looksLike('cm') }),
  range('devices[].needs_lumen', 0.2, 10, 'mm', { ifBelow: looksLike('inch') }),
  range('devices[].vessel_min', 0.2, 60, 'mm', { ifBelow: looksLike('cm') }),
  range('devices[].vessel_max', 0.2, 60, 'mm', { ifBelow: looksLike('cm') }),
  range('devices[].lead_time', 0, 730, 'd'),
];
