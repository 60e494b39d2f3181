import type { GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Shunt } from '../result/result.generated.js';
import { type AvDifference, avDifference, impliedUptakeDoubt } from './av-difference.js';
import type { GasLimits } from './gas-limits.js';
import { percent } from './gas-plausibility.js';
import { oxygenContent } from './oxygen-content.js';
import { saturationFromPo2 } from './oxygen-saturation.js';
import type { ShuntInput } from './shunt-input.js';
import type { ShuntSpread } from './shunt-interval.js';
import { completedSample, type ShuntNumbers } from './shunt-model.js';
import { standardAtmosphere } from './standard-atmosphere.js';

/** One arterial sample with all gaps filled, and the list of assumptions. */
export interface ResolvedSample {
  sample: GasSample;
  numbers: ShuntNumbers;
  spread: ShuntSpread;
  /** Which arterial saturation is in `numbers`. */
  saturationBasis: 'measured' | 'curve';
  origins: NonNullable<Shunt['origins']>;
  /** Source of the arterio-venous difference. */
  differenceBasis: NonNullable<Shunt['av_difference_basis']>;
  /** The mixed-venous sample that was used although its difference is small. */
  doubtfulVenous?: { sample: GasSample; differenceMlDl: MlPerDl };
  assumed: string[];
  findings: Finding[];
}

const c = CONSTANTS;

/** Fills the gaps of one arterial sample with listed defaults, or states why it gives no shunt. */
export function resolveSample(
  sample: GasSample,
  input: ShuntInput,
  limits: GasLimits,
): { resolved: ResolvedSample } | { absentBecause: string } {
  const { fio2 } = sample;
  if (fio2 === undefined)
    return { absentBecause: `${sample.path}.fio2 is missing: without it no alveolar PO2 can be given.` };
  const ph = sample.ph ?? c.standardPh.value;
  const temperatureC = sample.temperatureC ?? c.bodyTemperatureC.value;
  const arterial = completedSample(sample.po2MmHg, sample.so2Fraction, { ph, temperatureC });
  if (!arterial) {
    return {
      absentBecause:
        sample.so2Fraction === undefined
          ? `${sample.path} has neither po2 nor so2.`
          : `${sample.path}.po2 is missing, and a saturation of ${percent(sample.so2Fraction)} is on the flat part of the curve, where it gives no PO2.`,
    };
  }
  const assumed: string[] = [];
  const findings: Finding[] = [];
  const pressure = pressureOf(sample, assumed, findings);
  const pco2 = pco2Of(sample, assumed, findings);
  const saturation = saturationOf(sample, arterial, input.haemoglobinGDl !== undefined, assumed, findings);
  const arterialContent =
    input.haemoglobinGDl === undefined
      ? undefined
      : oxygenContent(
          input.haemoglobinGDl,
          saturation.value ?? saturationFromPo2(arterial.po2MmHg, { ph, temperatureC }),
          arterial.po2MmHg,
        );
  const venous = venousOf(sample, arterialContent, input, limits, assumed, findings);
  assumed.push(...assumptions(sample, fio2, input, saturation.basis));
  const numbers: ShuntNumbers = {
    fio2,
    barometricMmHg: pressure.mmHg,
    pco2MmHg: pco2.mmHg,
    po2MmHg: arterial.po2MmHg,
    ph,
    temperatureC,
    respiratoryQuotient: c.respiratoryQuotient.value,
    haemoglobinGDl: input.haemoglobinGDl,
    arterialSaturation: saturation.value,
    venous: venous.sample,
    avDifferenceMlDl: venous.difference.mlDl,
  };
  const spread: ShuntSpread = {
    pressure: pressure.from,
    pco2: pco2.from,
    avDifferenceSdMlDl: venous.difference.sdMlDl,
  };
  return {
    resolved: {
      sample,
      numbers,
      spread,
      saturationBasis: saturation.basis,
      differenceBasis: venous.sample ? 'mixed-venous' : venous.difference.basis,
      origins: {
        barometric_mmhg: PRESSURE_ORIGIN[pressure.from],
        arterial_saturation_percent: saturation.basis === 'measured' ? 'measured' : 'derived',
        av_difference_ml_dl: venous.sample ? 'measured' : venous.difference.origin,
      },
      doubtfulVenous: venous.doubtful,
      assumed,
      findings,
    },
  };
}

/** Assumptions of the formulas about a sample, whatever was measured. */
function assumptions(
  { ph, temperatureC }: GasSample,
  fio2: number,
  input: ShuntInput,
  saturationBasis: ResolvedSample['saturationBasis'],
): string[] {
  const assumed: string[] = [];
  if (input.haemoglobinGDl !== undefined) {
    assumed.push(cited('haemoglobinBindsMlPerG', 'haemoglobin binds'));
    if (input.when === 'after')
      assumed.push('haemoglobin after treatment as before (the case gives one value)');
  }
  assumed.push(cited('oxygenDissolvesMlPerDlMmHg', 'plasma and cells dissolve'));
  if (Math.abs((temperatureC ?? c.bodyTemperatureC.value) - c.bodyTemperatureC.value) < 0.01)
    assumed.push(cited('waterVapour37MmHg', 'water vapour at 37 degC'));
  if (temperatureC === undefined) assumed.push('temperature 37 degC (not given)');
  if (fio2 === 1) assumed.push('end-capillary blood on 100 % oxygen fully saturated');
  else {
    assumed.push(cited('respiratoryQuotient', 'respiratory quotient'));
    assumed.push(`end-capillary saturation from the alveolar PO2 (${SOURCES['severinghaus-1979'].cite})`);
  }
  if (ph === undefined && (saturationBasis === 'curve' || fio2 < 1)) assumed.push('pH 7.40 (not given)');
  return assumed;
}

const PRESSURE_ORIGIN = { measured: 'measured', altitude: 'derived', assumed: 'assumed' } as const;

function pressureOf(
  sample: GasSample,
  assumed: string[],
  findings: Finding[],
): { mmHg: MmHg; from: ShuntSpread['pressure'] } {
  if (sample.barometricMmHg !== undefined) return { mmHg: sample.barometricMmHg, from: 'measured' };
  if (sample.altitudeM !== undefined) {
    const mmHg = standardAtmosphere(sample.altitudeM);
    const text = `barometric pressure ${fixed(mmHg, 1)} mmHg from the altitude of ${fixed(sample.altitudeM, 0)} m`;
    assumed.push(`${text} (${SOURCES['iso-2533'].cite})`);
    findings.push(
      finding(
        'note',
        'pressure-from-altitude',
        sample.path,
        `${text[0].toUpperCase()}${text.slice(1)}, standard atmosphere. Weather moves it by about 20 mmHg: the pressure read at the analyser is better.`,
      ),
    );
    return { mmHg, from: 'altitude' };
  }
  const mmHg = c.seaLevelPressureMmHg.value;
  assumed.push(`barometric pressure ${mmHg} mmHg, sea level (neither pressure nor altitude given)`);
  findings.push(
    finding(
      'caution',
      'pressure-assumed-sea-level',
      sample.path,
      `Neither pressure nor altitude is given: ${mmHg} mmHg (sea level) was taken. At 1500 m this would read the shunt about 6 points too high. Write the pressure read at the analyser, or the altitude.`,
    ),
  );
  return { mmHg, from: 'assumed' };
}

function pco2Of(
  sample: GasSample,
  assumed: string[],
  findings: Finding[],
): { mmHg: MmHg; from: ShuntSpread['pco2'] } {
  if (sample.pco2MmHg !== undefined) return { mmHg: sample.pco2MmHg, from: 'measured' };
  const mmHg = c.assumedPaco2MmHg.value;
  assumed.push(`PaCO2 ${mmHg} mmHg (not given; common practice, no source)`);
  findings.push(
    finding(
      'caution',
      'pco2-assumed',
      `${sample.path}.pco2`,
      `PaCO2 is not given: ${mmHg} mmHg was taken. Write the measured one.`,
    ),
  );
  return { mmHg, from: 'assumed' };
}

/**
 * The measured saturation below 150 mmHg, or if it is below 98 %; from 150 mmHg up the curve, since analyser noise outweighs the
 * dissolved oxygen.
 */
function saturationOf(
  sample: GasSample,
  arterial: { po2MmHg: MmHg; derived?: 'po2' | 'so2' },
  contentIsWorked: boolean,
  assumed: string[],
  findings: Finding[],
): { value?: number; basis: 'measured' | 'curve' } {
  const measured = sample.so2Fraction;
  if (arterial.derived === 'po2') {
    assumed.push(
      `arterial PO2 ${fixed(arterial.po2MmHg, 1)} mmHg from the measured saturation (${SOURCES['ellis-1989'].cite})`,
    );
    findings.push(
      finding(
        'note',
        'po2-derived',
        `${sample.path}.po2`,
        'PO2 is not given and was taken from the measured saturation by the curve.',
      ),
    );
  }
  const fullySaturated = arterial.po2MmHg >= c.fullSaturationPo2MmHg.value;
  if (measured !== undefined && !(fullySaturated && measured >= c.measuredSaturationTrustedBelow.value)) {
    return { value: measured, basis: 'measured' };
  }
  // The dissolved form needs no saturation, so none is listed as assumed.
  if (!contentIsWorked) return { basis: 'curve' };
  assumed.push(
    measured === undefined
      ? `arterial saturation from PO2, not measured (${SOURCES['severinghaus-1979'].cite})`
      : `arterial saturation from PO2 though ${percent(measured)} was measured: from ${c.fullSaturationPo2MmHg.value} mmHg up analyser noise outweighs the dissolved oxygen (${SOURCES['severinghaus-1979'].cite})`,
  );
  return { basis: 'curve' };
}

/**
 * The mixed-venous blood of the visit, or a difference instead. A sample that is arterial by its difference is ignored with a finding;
 * one with a small difference is used and marked doubtful.
 */
function venousOf(
  sample: GasSample,
  arterialContentMlDl: MlPerDl | undefined,
  input: ShuntInput,
  limits: GasLimits,
  assumed: string[],
  findings: Finding[],
): {
  sample?: ShuntNumbers['venous'];
  difference: AvDifference;
  doubtful?: ResolvedSample['doubtfulVenous'];
} {
  const difference = avDifference(input, limits);
  const drawn = input.samples.filter((s) => s.site === 'mixed-venous' && s.when === input.when);
  for (const venous of drawn) {
    if (venous.fio2 !== undefined && venous.fio2 !== sample.fio2) {
      findings.push(
        finding(
          'caution',
          'mixed-venous-other-oxygen',
          venous.path,
          `The mixed-venous sample was drawn on FiO2 ${fixed(venous.fio2, 2)}, the arterial one on ${fixed(sample.fio2 ?? 0, 2)}: it was not used. Draw both on the same oxygen.`,
        ),
      );
      continue;
    }
    const whole = completedSample(venous.po2MmHg, venous.so2Fraction, {
      ph: venous.ph,
      temperatureC: venous.temperatureC ?? sample.temperatureC,
    });
    if (!whole || input.haemoglobinGDl === undefined || arterialContentMlDl === undefined) {
      findings.push(
        finding(
          'caution',
          'mixed-venous-unusable',
          venous.path,
          `The mixed-venous sample was not used: ${whole ? 'haemoglobin is missing' : 'it has no usable po2 or so2'}.`,
        ),
      );
      continue;
    }
    const measured =
      arterialContentMlDl - oxygenContent(input.haemoglobinGDl, whole.so2Fraction, whole.po2MmHg);
    if (measured < limits.venousDifferenceUnusedMlDl) {
      findings.push(
        finding(
          'caution',
          'mixed-venous-arterial',
          venous.path,
          `The mixed-venous sample ${venous.name} (saturation ${percent(whole.so2Fraction)}) holds ${
            measured < 0 ? 'more oxygen than' : `only ${fixed(measured, 2)} mL/dL less oxygen than`
          } the arterial sample ${sample.name}, below ${limits.venousDifferenceUnusedMlDl} mL/dL: it looks arterial, and it was not used. Check which sample is which, and draw mixed-venous blood again from the pulmonary artery, slowly and with the catheter not wedged.`,
        ),
      );
      continue;
    }
    if (whole.derived) {
      assumed.push(
        whole.derived === 'so2'
          ? `mixed-venous saturation ${percent(whole.so2Fraction)} from its PO2 (${SOURCES['severinghaus-1979'].cite})`
          : `mixed-venous PO2 ${fixed(whole.po2MmHg, 1)} mmHg from its saturation (${SOURCES['ellis-1989'].cite})`,
      );
      if (venous.ph === undefined) assumed.push('mixed-venous pH 7.40 (not given)');
    }
    const isDoubtful = measured <= limits.venousDifferenceDoubtfulMlDl;
    return {
      sample: whole,
      difference,
      ...(isDoubtful && { doubtful: { sample: venous, differenceMlDl: measured } }),
    };
  }
  findings.push(...difference.findings, ...impliedUptakeDoubt(input, difference, limits));
  if (difference.assumed !== undefined) assumed.push(difference.assumed);
  return { difference };
}

function cited(key: keyof typeof CONSTANTS, words: string): string {
  const { value, unit, source } = CONSTANTS[key];
  const known = (SOURCES as Record<string, { cite: string }>)[source];
  const amount = unit === 'ratio' ? `${value}` : `${value} ${unit}`;
  return `${words} ${amount} (${known ? known.cite : source})`;
}
