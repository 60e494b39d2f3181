/**
 * The only place for physical and physiological constants. Clinical thresholds and decisions are in `src/rules/*.yaml`. Each record has
 * its unit in its name, its source key (see sources.ts) and how it was read.
 */
export interface Constant {
  value: number;
  unit: string;
  /** Key of `SOURCES`, or 'common practice, no source'. */
  source: string;
  note?: string;
}

const constant = (value: number, unit: string, source: string, note?: string): Constant =>
  note === undefined ? { value, unit, source } : { value, unit, source, note };

export const CONSTANTS = {
  haemoglobinBindsMlPerG: constant(
    1.34,
    'mL/g',
    'santhirapala-2014',
    'used in the PAVM literature; 1.36 and 1.39 exist',
  ),
  oxygenDissolvesMlPerDlMmHg: constant(
    0.0031,
    'mL/dL/mmHg',
    'siggaard-andersen-1984',
    '0.0105 mmol/L/kPa; 0.003 is also used',
  ),
  waterVapour37MmHg: constant(
    47,
    'mmHg',
    'crc-handbook-1992',
    'rounded by convention; the handbook has 47.10',
  ),
  respiratoryQuotient: constant(0.8, 'ratio', 'fenn-1946'),
  seaLevelPressureMmHg: constant(760, 'mmHg', 'iso-2533'),
  bodyTemperatureC: constant(37, 'degC', 'severinghaus-1979'),
  standardPh: constant(7.4, 'pH', 'severinghaus-1979'),
  /** PO2 of mixed-venous blood at rest: no arterial blood is lower, so this limits the result of the dissolved-only form. */
  mixedVenousPo2MmHg: constant(40, 'mmHg', 'common practice, no source'),
  assumedPaco2MmHg: constant(40, 'mmHg', 'common practice, no source'),
  assumedAvDifferenceMlDl: constant(5, 'mL/dL', 'chiang-1968', 'convention'),
  measuredAvDifferenceHhtMlDl: constant(4.4, 'mL/dL', 'clin-sci-2002', 'mean of 12 patients'),
  airOxygenFraction: constant(0.21, 'fraction', 'fenn-1946', '0.2093 by analysis; 0.21 at the bedside'),
  // Limits of validity of the gas equations.
  fullSaturationPo2MmHg: constant(150, 'mmHg', 'chiang-1968', 'dissolved-only form counts from here up'),
  measuredSaturationTrustedBelow: constant(
    0.98,
    'fraction',
    'toffaletti-2026',
    'from 150 mmHg up, our reading of its example',
  ),
  oxygenWashoutMinutes: constant(20, 'min', 'toffaletti-2026', '15 to 30 min are usual'),
  physiologicalShuntFraction: constant(
    0.027,
    'fraction',
    'whyte-1992',
    'normal subjects at rest, microspheres',
  ),
  physiologicalShuntSd: constant(0.012, 'fraction', 'whyte-1992'),
  invertibleSaturation: constant(
    0.97,
    'fraction',
    'common practice, no source',
    'above, the curve is too flat to give a PO2',
  ),
  // Analyser and sampling errors, one standard deviation.
  po2SdFraction: constant(0.03, 'fraction', 'common practice, no source'),
  pco2SdMmHg: constant(2.5, 'mmHg', 'clia-blood-gas', '5 mmHg read as two standard deviations'),
  assumedPaco2SdMmHg: constant(5, 'mmHg', 'common practice, no source'),
  so2Sd: constant(0.005, 'fraction', 'common practice, no source'),
  curveSd: constant(0.0026, 'fraction', 'severinghaus-1979', 'mean error by the author'),
  haemoglobinSdFraction: constant(0.02, 'fraction', 'common practice, no source'),
  measuredPressureSdMmHg: constant(1, 'mmHg', 'common practice, no source'),
  altitudePressureSdMmHg: constant(
    10,
    'mmHg',
    'common practice, no source',
    'weather moves the pressure by about 20 mmHg',
  ),
  assumedPressureSdMmHg: constant(20, 'mmHg', 'common practice, no source'),
  avDifferenceSdMlDl: constant(
    0.7,
    'mL/dL',
    'common practice, no source',
    'spans 3.5 to 5 and more, the values in use',
  ),
  measuredUptakeSdFraction: constant(0.1, 'fraction', 'common practice, no source'),
  outputSdFraction: constant(
    0.1,
    'fraction',
    'common practice, no source',
    'thermodilution, measured Fick, magnetic resonance',
  ),
  outputEchoSdFraction: constant(
    0.2,
    'fraction',
    'common practice, no source',
    'also where no method is stated',
  ),
  outputAssumedSdFraction: constant(
    0.25,
    'fraction',
    'common practice, no source',
    'Fick with an assumed uptake',
  ),
  respiratoryQuotientSd: constant(0.05, 'ratio', 'common practice, no source'),
  // Plausibility of a sample.
  highestPlausibleHaemoglobinGDl: constant(30, 'g/dL', 'common practice, no source', 'above: g/L was typed'),
  lowestPlausibleHaemoglobinGDl: constant(3, 'g/dL', 'common practice, no source'),
  lowestPlausiblePressureMmHg: constant(250, 'mmHg', 'common practice, no source', 'about 8500 m'),
  highestPlausiblePressureMmHg: constant(820, 'mmHg', 'common practice, no source'),
  lowestPlausiblePaco2MmHg: constant(12, 'mmHg', 'common practice, no source', 'below: kPa was typed'),
  highestPlausiblePaco2MmHg: constant(130, 'mmHg', 'common practice, no source'),
  highestPlausibleAltitudeM: constant(9000, 'm', 'iso-2533', 'inside the troposphere'),
  lowestPlausibleAltitudeM: constant(-450, 'm', 'common practice, no source'),
  saturationDisagreement: constant(
    0.05,
    'fraction',
    'common practice, no source',
    'a shifted curve explains about this much',
  ),
  cellHaemoglobinLowGDl: constant(26, 'g/dL', 'common practice, no source', 'haemoglobin over haematocrit'),
  cellHaemoglobinHighGDl: constant(40, 'g/dL', 'common practice, no source'),
  bicarbonateLowMmolL: constant(3, 'mmol/L', 'common practice, no source'),
  bicarbonateHighMmolL: constant(60, 'mmol/L', 'common practice, no source'),
  phLow: constant(6.7, 'pH', 'common practice, no source'),
  phHigh: constant(7.9, 'pH', 'common practice, no source'),
  temperatureLowC: constant(25, 'degC', 'common practice, no source'),
  temperatureHighC: constant(43, 'degC', 'common practice, no source'),
  lowestPlausiblePao2MmHg: constant(18, 'mmHg', 'common practice, no source', 'below: kPa was typed'),
  unitSuspectPao2MmHg: constant(
    95,
    'mmHg',
    'common practice, no source',
    'on 100 % oxygen, a number below this may be kPa',
  ),
  // Circulation.
  normalMeanPaPressureMmHg: constant(14, 'mmHg', 'ers-normal-haemodynamics'),
  normalMeanPaPressureSdMmHg: constant(3, 'mmHg', 'ers-normal-haemodynamics'),
  normalWedgePressureSdMmHg: constant(
    2,
    'mmHg',
    'ers-normal-haemodynamics',
    '4 to 12 read as two standard deviations',
  ),
  measuredCatheterSdMmHg: constant(
    1.5,
    'mmHg',
    'common practice, no source',
    'zero level, breathing and reading of a fluid-filled catheter',
  ),
  normalWedgePressureMmHg: constant(8, 'mmHg', 'ers-normal-haemodynamics', 'middle of 4 to 12'),
  normalCardiacOutputLMin: constant(5, 'L/min', 'ers-normal-haemodynamics', 'middle of 4 to 6'),
  normalCardiacOutputLowLMin: constant(4, 'L/min', 'ers-normal-haemodynamics'),
  normalCardiacOutputHighLMin: constant(6, 'L/min', 'ers-normal-haemodynamics'),
  bloodViscosityMPaS: constant(
    3.5,
    'mPa s',
    'common practice, no source',
    'nominal; plus or minus a quarter',
  ),
  bloodDensityKgM3: constant(1060, 'kg/m3', 'common practice, no source'),
  laminarReynolds: constant(
    2300,
    'ratio',
    'poiseuille-sutera-1993',
    'pipe flow stays laminar below about this',
  ),
  woodUnitPaSM3: constant((133.322387415 * 60) / 0.001, 'Pa s/m3', 'nist-sp-811', '1 mmHg min/L'),
  // Size of the body.
  duBoisFactor: constant(0.007184, 'm2', 'du-bois-1916', 'height in cm, weight in kg'),
  duBoisHeightPower: constant(0.725, 'ratio', 'du-bois-1916'),
  duBoisWeightPower: constant(0.425, 'ratio', 'du-bois-1916'),
  haycockFactor: constant(0.024265, 'm2', 'haycock-1978', 'height in cm, weight in kg'),
  haycockHeightPower: constant(0.3964, 'ratio', 'haycock-1978'),
  haycockWeightPower: constant(0.5378, 'ratio', 'haycock-1978'),
  idealWeightMaleKg: constant(50, 'kg', 'devine-1974'),
  idealWeightFemaleKg: constant(45.5, 'kg', 'devine-1974'),
  idealWeightPerCmKg: constant(0.906, 'kg/cm', 'devine-1974', '2.3 kg for each inch above 5 feet'),
  idealWeightHeightCm: constant(152.4, 'cm', 'devine-1974', '5 feet'),
  haycockBelowKg: constant(15, 'kg', 'common practice, no source', 'Du Bois reads too low in infants'),
  filtrationReferenceM2: constant(1.73, 'm2', 'kdigo-2012', 'surface that an indexed eGFR refers to'),
  adultFromYears: constant(18, 'years', 'common practice, no source'),
  predictedFromYears: constant(
    1,
    'years',
    'common practice, no source',
    'younger: neither output nor uptake is predicted',
  ),
  childCardiacIndexLMinM2: constant(3.4, 'L/min/m2', 'jegier-1963', '3.38 in 77 subjects of 0.2 to 2.0 m2'),
  childCardiacIndexSpread: constant(0.3, 'fraction', 'common practice, no source'),
  uptakePerSurface: constant(157.3, 'mL/min/m2', 'bergstra-1995'),
  uptakeManMlMin: constant(10, 'mL/min', 'bergstra-1995'),
  uptakeLogAge: constant(10.5, 'mL/min', 'bergstra-1995', 'times the natural logarithm of the age in years'),
  uptakeOffsetMlMin: constant(4.8, 'mL/min', 'bergstra-1995', 'this term from memory'),
  uptakeSpreadFraction: constant(
    0.3,
    'fraction',
    'common practice, no source',
    'formulas are more than 25 % off in a quarter and more of patients',
  ),
  // Lung function after resection.
  segmentsBothLungs: constant(19, 'segments', 'bts-scts-2001'),
  subsegmentsBothLungs: constant(42, 'subsegments', 'bts-2010-resection'),
  fev1AgreementBelow: constant(
    19.7,
    'points of %',
    'lim-2024',
    'measured below predicted, 95 % limit of agreement',
  ),
  fev1AgreementAbove: constant(39.3, 'points of %', 'lim-2024', 'measured above predicted'),
  dlcoAgreementBelow: constant(15.9, 'points of %', 'lim-2024'),
  dlcoAgreementAbove: constant(25.6, 'points of %', 'lim-2024'),
  // Scans.
  segmentationThresholdError: constant(
    0.1,
    'fraction of the contrast',
    'common practice, no source',
    '95 % of the thresholds lie within this of half the contrast',
  ),
} as const satisfies Record<string, Constant>;
