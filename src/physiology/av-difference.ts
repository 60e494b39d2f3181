import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { MlPerDl } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Origin, Shunt } from '../result/result.generated.js';
import { assumedAvDifference } from './assumed-av-difference.js';
import type { GasLimits } from './gas-limits.js';
import { predictedUptake } from './predicted-uptake.js';
import type { ShuntInput } from './shunt-input.js';

/** The arterio-venous difference used without a mixed-venous sample. */
export interface AvDifference {
  mlDl: number;
  sdMlDl: MlPerDl;
  basis: Exclude<NonNullable<Shunt['av_difference_basis']>, 'mixed-venous'>;
  origin: Origin;
  /** Its text in the list of assumptions; absent if measured. */
  assumed?: string;
  findings: Finding[];
}

/** An alternative difference for the same sample. */
export interface OtherDifference {
  mlDl: number;
  intervalMlDl?: [MlPerDl, MlPerDl];
  source: string;
}

const c = CONSTANTS;

/**
 * The difference in content between arterial and mixed-venous blood, without a mixed-venous sample.
 *
 * Formula   Fick: uptake / (10 · output), if both were measured; else the one given by the user; else a child's by predicted
 *           uptake over output, else the conventional 5 mL/dL
 * Source    Fick's principle [fick-1870, from memory]; convention [chiang-1968]
 * Circular  an assumed uptake, or an output computed from one, only returns the assumption: it never becomes the headline
 * Checked   tests/physiology/av-difference.test.ts
 */
export function avDifference(input: ShuntInput, limits: GasLimits): AvDifference {
  if (input.avDifferenceMlDl !== undefined) {
    return {
      mlDl: input.avDifferenceMlDl,
      sdMlDl: c.avDifferenceSdMlDl.value,
      basis: 'assumed',
      origin: 'stated',
      assumed: `arterio-venous difference ${fixed(input.avDifferenceMlDl, 2)} mL/dL as given`,
      findings: [],
    };
  }
  const fick = fickMlDl(input);
  if (fick === undefined) return assumedDifference(input, []);
  const numbers = `oxygen uptake ${fixed(input.oxygenUptakeMlMin as number, 0)} mL/min over output ${fixed(input.cardiacOutputLMin as number, 1)} L/min (Fick)`;
  const refusal = fickRefusal(input);
  if (refusal !== undefined) {
    const text = `The arterio-venous difference by Fick, ${fixed(fick, 2)} mL/dL, is given beside the shunt and is not used for it: ${refusal}.`;
    return assumedDifference(input, [finding('note', 'fick-beside', 'circulation.oxygen_uptake', text)]);
  }
  if (fick < limits.venousDifferenceUnusedMlDl) {
    const text = `Measured ${numbers} gives an arterio-venous difference of ${fixed(fick, 2)} mL/dL, below ${limits.venousDifferenceUnusedMlDl} mL/dL: it was not used. Check both values and their units.`;
    return assumedDifference(input, [finding('caution', 'fick-impossible', 'circulation', text)]);
  }
  return {
    mlDl: fick,
    sdMlDl: fick * Math.hypot(c.measuredUptakeSdFraction.value, outputSdFraction(input.cardiacOutputMethod)),
    basis: 'fick',
    origin: 'derived',
    findings: [],
  };
}

const OUTPUT_SD = {
  thermodilution: 'outputSdFraction',
  'fick-measured': 'outputSdFraction',
  mri: 'outputSdFraction',
  'fick-assumed': 'outputAssumedSdFraction',
  echo: 'outputEchoSdFraction',
  unknown: 'outputEchoSdFraction',
} as const;

/**
 * Standard deviation of a cardiac output as a fraction of its value, by method of measurement; an unknown method counts as
 * echocardiography.
 */
export const outputSdFraction = (method: ShuntInput['cardiacOutputMethod']): number =>
  c[OUTPUT_SD[method ?? 'unknown']].value;

const fickMlDl = ({
  oxygenUptakeMlMin: uptake,
  cardiacOutputLMin: output,
}: ShuntInput): number | undefined =>
  uptake !== undefined && uptake > 0 && output !== undefined && output > 0
    ? uptake / (10 * output)
    : undefined;

/** Why Fick's difference is not a measurement of this patient; undefined if it is. */
function fickRefusal({ oxygenUptakeMethod, cardiacOutputMethod }: ShuntInput): string | undefined {
  if (cardiacOutputMethod === 'fick-assumed')
    return 'the output was computed from an assumed uptake, so it only returns that assumption';
  if (oxygenUptakeMethod === 'assumed') return 'the uptake was assumed';
  if (oxygenUptakeMethod === undefined)
    return 'whether the uptake was measured is not stated (write circulation.oxygen_uptake_method: measured or assumed)';
  return undefined;
}

function assumedDifference(input: ShuntInput, findings: Finding[]): AvDifference {
  const output = input.cardiacOutputLMin;
  const answer = input.patient && assumedAvDifference(input.patient, output);
  const sdMlDl = c.avDifferenceSdMlDl.value;
  if (answer && 'difference' in answer && answer.difference.impliedBy) {
    const { mlDl, impliedBy } = answer.difference;
    return {
      mlDl,
      sdMlDl: (mlDl * c.uptakeSpreadFraction.value) / 1.96,
      basis: 'assumed',
      origin: 'assumed',
      assumed: `arterio-venous difference ${fixed(mlDl, 2)} mL/dL: a child's predicted uptake of ${fixed(impliedBy.uptakeMlMin, 0)} mL/min (${SOURCES['bergstra-1995'].cite}) over ${output === undefined ? 'an assumed' : 'an'} output of ${fixed(impliedBy.outputLMin, 2)} L/min`,
      findings,
    };
  }
  const { value, unit, source } = c.assumedAvDifferenceMlDl;
  if (answer && 'absentBecause' in answer) {
    findings.push(
      finding(
        'caution',
        'child-difference-conventional',
        'patient',
        `No arterio-venous difference of a child can be predicted: ${answer.absentBecause}. The conventional ${value} mL/dL of adults was taken. Write age, height and weight, or measure mixed-venous blood.`,
      ),
    );
  }
  const cite = (SOURCES as Record<string, { cite: string }>)[source].cite;
  return {
    mlDl: value,
    sdMlDl,
    basis: 'assumed',
    origin: 'assumed',
    assumed: `arterio-venous difference ${value} ${unit} (${cite})`,
    findings,
  };
}

/** Alternative differences to show with the answer: convention, HHT, Fick, and predicted uptake. */
export function otherDifferences(input: ShuntInput): OtherDifference[] {
  const rows: OtherDifference[] = [
    { mlDl: c.assumedAvDifferenceMlDl.value, source: `convention, ${SOURCES['chiang-1968'].cite}` },
    {
      mlDl: c.measuredAvDifferenceHhtMlDl.value,
      source: `measured in HHT, ${SOURCES['clin-sci-2002'].cite}`,
    },
  ];
  const fick = fickMlDl(input);
  if (fick !== undefined) {
    const refusal = fickRefusal(input);
    rows.push({
      mlDl: fick,
      source: `this patient's oxygen uptake over cardiac output (Fick)${refusal === undefined ? '' : `; ${refusal}`}`,
    });
  }
  const predicted = predictedDifference(input);
  if (predicted) rows.push(predicted);
  return rows;
}

/** Predicted uptake over the measured output; undefined without an output, or if an uptake was measured or none can be predicted. */
function predictedDifference(input: ShuntInput): OtherDifference | undefined {
  const { patient, cardiacOutputLMin: output } = input;
  if (patient === undefined || output === undefined || !(output > 0)) return undefined;
  if (fickMlDl(input) !== undefined && fickRefusal(input) === undefined) return undefined;
  const answer = predictedUptake(patient);
  if ('absentBecause' in answer) return undefined;
  const { mlMin, intervalMlMin } = answer.uptake;
  return {
    mlDl: mlMin / (10 * output),
    intervalMlDl: [intervalMlMin[0] / (10 * output), intervalMlMin[1] / (10 * output)],
    source: `predicted oxygen uptake of ${fixed(mlMin, 0)} mL/min, plus and minus ${fixed(100 * c.uptakeSpreadFraction.value, 0)} %, over the output; ${SOURCES['bergstra-1995'].cite}`,
  };
}

/**
 * A caution if the conventional difference and the output imply a resting oxygen uptake that no adult of that size has.
 *
 * Formula   10 · difference · output / weight, mL/kg/min; with the ideal weight if the body mass index is in the obese range
 * Source    limits and body mass index: rules; ideal weight: Devine, Drug Intell Clin Pharm 1974;8:650 [devine-1974, from memory]
 */
export function impliedUptakeDoubt(input: ShuntInput, used: AvDifference, limits: GasLimits): Finding[] {
  const { patient, cardiacOutputLMin: output } = input;
  if (used.basis !== 'assumed' || input.avDifferenceMlDl !== undefined) return [];
  if (output === undefined || patient?.weightKg === undefined) return [];
  if (patient.ageYears !== undefined && patient.ageYears < c.adultFromYears.value) return [];
  const { kg, isIdeal } = weightForUptake(patient, limits.obeseBmi);
  const uptake = 10 * used.mlDl * output;
  const perKg = uptake / kg;
  if (perKg >= limits.lowestRestUptakeMlKgMin && perKg <= limits.highestRestUptakeMlKgMin) return [];
  const isHigh = perKg > limits.highestRestUptakeMlKgMin;
  const predicted = predictedDifference(input);
  const beside = predicted
    ? ` With the uptake predicted for age, sex and size it would be ${fixed(predicted.mlDl, 1)} mL/dL.`
    : '';
  const text = `The assumed arterio-venous difference of ${fixed(used.mlDl, 1)} mL/dL at ${fixed(output, 1)} L/min means an oxygen uptake of ${fixed(uptake, 0)} mL/min, ${fixed(perKg, 1)} mL/min per kg${isIdeal ? ' of ideal weight' : ''} (at rest ${limits.lowestRestUptakeMlKgMin} to ${limits.highestRestUptakeMlKgMin}): the shunt reads too ${isHigh ? 'low' : 'high'}.${beside} Measure mixed-venous blood or uptake.`;
  return [finding('caution', 'assumed-difference-implausible', 'circulation.cardiac_output', text)];
}

function weightForUptake(
  { weightKg = 0, heightCm, sex }: NonNullable<ShuntInput['patient']>,
  obeseBmi: number,
): { kg: number; isIdeal: boolean } {
  if (heightCm === undefined || weightKg / (heightCm / 100) ** 2 < obeseBmi)
    return { kg: weightKg, isIdeal: false };
  const male = c.idealWeightMaleKg.value;
  const female = c.idealWeightFemaleKg.value;
  const base = sex === 'male' ? male : sex === 'female' ? female : (male + female) / 2;
  const taller = Math.max(0, heightCm - c.idealWeightHeightCm.value);
  return { kg: base + c.idealWeightPerCmKg.value * taller, isIdeal: true };
}
