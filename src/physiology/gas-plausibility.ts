import type { GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import { power } from '../foundation/power.js';
import type { Fraction, GPerDl, MmHg } from '../foundation/unit-types.js';
import { convert } from '../foundation/units.js';
import { CONSTANTS } from '../reference/constants.js';
import { type GasLimits, highestBelievedPo2MmHg } from './gas-limits.js';
import { saturationFromPo2 } from './oxygen-saturation.js';

const c = CONSTANTS;

/**
 * Findings on the stated numbers of one arterial sample, before anything is computed from it. A `stop` means that the number is impossible
 * (usually a wrong unit), and no shunt is computed from it.
 */
export function checkWrittenGas(sample: GasSample): Finding[] {
  const found: Finding[] = [];
  const add: Add = (level, id, field, text) =>
    found.push(finding(level, id, `${sample.path}.${field}`, text));
  checkInspired(sample, add);
  checkCarbonDioxide(sample, add);
  checkTemperature(sample, add);
  return found;
}

type Add = (level: Finding['level'], id: string, field: string, text: string) => void;

function checkInspired({ fio2, barometricMmHg, altitudeM }: GasSample, add: Add): void {
  if (fio2 !== undefined && !(fio2 > 0 && fio2 <= 1)) {
    add(
      'stop',
      'fio2-range',
      'fio2',
      `FiO2 is ${fixed(fio2, 2)}; it is a fraction above 0 and up to 1, for example 0.21 or 1.0.`,
    );
  }
  if (barometricMmHg !== undefined) {
    if (
      barometricMmHg < c.lowestPlausiblePressureMmHg.value ||
      barometricMmHg > c.highestPlausiblePressureMmHg.value
    ) {
      add(
        'stop',
        'pressure-unit-suspect',
        'pressure',
        `The barometric pressure is ${mmHgAndKPa(barometricMmHg)}, which no inhabited place has. Check its unit (sea level: 760 mmHg or 101.3 kPa).`,
      );
    }
  } else if (
    altitudeM !== undefined &&
    (altitudeM < c.lowestPlausibleAltitudeM.value || altitudeM > c.highestPlausibleAltitudeM.value)
  ) {
    add(
      'stop',
      'altitude-range',
      'altitude',
      `The altitude is ${fixed(altitudeM, 0)} m. Check it and its unit.`,
    );
  }
}

function checkCarbonDioxide({ pco2MmHg, ph }: GasSample, add: Add): void {
  if (pco2MmHg !== undefined && pco2MmHg < c.lowestPlausiblePaco2MmHg.value) {
    add(
      'stop',
      'pco2-unit-suspect',
      'pco2',
      `PaCO2 is ${mmHgAndKPa(pco2MmHg)}, too low to live with; this looks like a value in kPa. Write its unit as measured.`,
    );
  } else if (pco2MmHg !== undefined && pco2MmHg > c.highestPlausiblePaco2MmHg.value) {
    add(
      'stop',
      'pco2-unit-suspect',
      'pco2',
      `PaCO2 is ${mmHgAndKPa(pco2MmHg)}; this looks like a value in mmHg written as kPa. Write its unit as measured.`,
    );
  }
  if (ph !== undefined && (ph < c.phLow.value || ph > c.phHigh.value)) {
    add(
      'caution',
      'ph-pco2-impossible',
      'ph',
      `pH ${fixed(ph, 2)} is outside life (${c.phLow.value} to ${c.phHigh.value}). Check the sample.`,
    );
  } else if (ph !== undefined && pco2MmHg !== undefined) {
    const bicarbonate = bicarbonateMmolL(ph, pco2MmHg);
    if (bicarbonate < c.bicarbonateLowMmolL.value || bicarbonate > c.bicarbonateHighMmolL.value) {
      add(
        'caution',
        'ph-pco2-impossible',
        'ph',
        `pH ${fixed(ph, 2)} with PaCO2 ${mmHgAndKPa(pco2MmHg)} means a bicarbonate of ${fixed(bicarbonate, 1)} mmol/L, which is not compatible with life. Check both.`,
      );
    }
  }
}

function checkTemperature({ temperatureC }: GasSample, add: Add): void {
  if (
    temperatureC !== undefined &&
    (temperatureC < c.temperatureLowC.value || temperatureC > c.temperatureHighC.value)
  ) {
    add(
      'stop',
      'temperature-range',
      'temperature',
      `The temperature is ${fixed(temperatureC, 1)} degC. Check it and its unit.`,
    );
  } else if (temperatureC !== undefined && Math.abs(temperatureC - c.bodyTemperatureC.value) >= 0.01) {
    add(
      'note',
      'temperature-convention',
      'temperature',
      `Gases are taken as reported at ${fixed(temperatureC, 1)} degC. If the analyser reported them at 37 degC, write 37 degC.`,
    );
  }
}

/** Findings that need the alveolar PO2: an impossible PO2, a wrong unit, a saturation that contradicts the PO2. */
export function checkAgainstAlveolar(
  sample: GasSample,
  alveolarMmHg: MmHg,
  barometricMmHg: MmHg,
  limits: GasLimits,
): Finding[] {
  const { po2MmHg, so2Fraction, ph, temperatureC } = sample;
  if (po2MmHg === undefined) return [];
  const where = `${sample.path}.po2`;
  const found: Finding[] = [];
  // the number read in the other unit
  const bare: number = po2MmHg;
  const readAsMmHg = convert(po2MmHg, 'pressure', 'mmHg', 'kPa');
  const readAsKPa = convert(bare, 'pressure', 'kPa', 'mmHg');
  const highest = highestBelievedPo2MmHg(alveolarMmHg, limits);
  if (po2MmHg > highest) {
    found.push(
      finding(
        'stop',
        'po2-above-alveolar',
        where,
        `PaO2 ${mmHgAndKPa(po2MmHg)} is ${fixed(po2MmHg - alveolarMmHg, 1)} mmHg above the alveolar PO2 of ${mmHgAndKPa(alveolarMmHg)}; analyser error explains up to ${fixed(highest - alveolarMmHg, 1)} mmHg. The sample is faulty: check PO2, FiO2, PCO2 and pressure, or repeat it.`,
      ),
    );
    if (po2MmHg > barometricMmHg && readAsMmHg <= alveolarMmHg) {
      found.push(
        finding(
          'stop',
          'po2-unit-suspect',
          where,
          `PaO2 ${mmHgAndKPa(po2MmHg)} is above the barometric pressure; this looks like ${fixed(readAsMmHg, 0)} mmHg written as kPa. Write its unit as measured.`,
        ),
      );
    }
    return found;
  }
  const byCurve = saturationFromPo2(po2MmHg, { ph, temperatureC });
  const contradicts =
    so2Fraction !== undefined && Math.abs(so2Fraction - byCurve) > c.saturationDisagreement.value;
  const mayBeKPa = readAsKPa <= highest;
  const lowForOxygen = sample.fio2 === 1 && po2MmHg <= c.unitSuspectPao2MmHg.value;
  const tooLowToLive = po2MmHg < c.lowestPlausiblePao2MmHg.value;
  if (mayBeKPa && (lowForOxygen || tooLowToLive) && (so2Fraction === undefined || contradicts)) {
    const kPaFits =
      so2Fraction === undefined
        ? tooLowToLive
        : Math.abs(so2Fraction - saturationFromPo2(readAsKPa, { ph, temperatureC })) <=
          c.saturationDisagreement.value;
    found.push(
      finding(
        kPaFits ? 'stop' : 'caution',
        'po2-unit-suspect',
        where,
        `PaO2 is written as ${mmHgAndKPa(po2MmHg)}. ${fixed(po2MmHg, 1)} kPa would be ${fixed(readAsKPa, 0)} mmHg${
          kPaFits
            ? ` and ${so2Fraction === undefined ? 'could be lived with' : 'would fit the measured saturation'}`
            : ''
        }. Confirm the unit; a co-oximeter saturation settles it.`,
      ),
    );
  }
  if (contradicts || unexpectedDesaturation(po2MmHg, so2Fraction)) {
    found.push(
      finding(
        'caution',
        'saturation-contradicts-po2',
        `${sample.path}.so2`,
        `Measured saturation ${percent(so2Fraction as number)} at PaO2 ${mmHgAndKPa(po2MmHg)}; the dissociation curve gives ${percent(byCurve)}. Carboxy- or methaemoglobin, an air bubble, a delayed sample or a slip can do this. Check, or repeat the sample.`,
      ),
    );
  }
  return found;
}

/** Findings on haemoglobin and haematocrit. A `stop` blocks the content form. */
export function checkBlood(
  haemoglobinGDl: GPerDl | undefined,
  haematocritFraction: Fraction | undefined,
): Finding[] {
  if (haemoglobinGDl === undefined) return [];
  if (
    haemoglobinGDl > c.highestPlausibleHaemoglobinGDl.value ||
    haemoglobinGDl < c.lowestPlausibleHaemoglobinGDl.value
  ) {
    const tooHigh = haemoglobinGDl > c.highestPlausibleHaemoglobinGDl.value;
    return [
      finding(
        'stop',
        'haemoglobin-unit-suspect',
        'blood.haemoglobin',
        `Haemoglobin is ${fixed(haemoglobinGDl, 1)} g/dL; this looks like ${tooHigh ? 'g/L written as g/dL' : 'mmol/L or g/dL written in another unit'}. Write its unit as measured.`,
      ),
    ];
  }
  if (haematocritFraction === undefined || !(haematocritFraction > 0)) return [];
  const inCells = haemoglobinGDl / haematocritFraction;
  if (inCells >= c.cellHaemoglobinLowGDl.value && inCells <= c.cellHaemoglobinHighGDl.value) return [];
  return [
    finding(
      'caution',
      'haemoglobin-haematocrit-ratio',
      'blood',
      `Haemoglobin ${fixed(haemoglobinGDl, 1)} g/dL with haematocrit ${percent(haematocritFraction)} means ${fixed(inCells, 1)} g/dL inside the cells; ${c.cellHaemoglobinLowGDl.value} to ${c.cellHaemoglobinHighGDl.value} is possible. One of the two is wrong or of another day.`,
    ),
  ];
}

/** Henderson-Hasselbalch: HCO3 = 0.0307·PCO2·10^(pH − 6.1), mmol/L (from memory). */
function bicarbonateMmolL(ph: number, pco2MmHg: MmHg): number {
  return 0.0307 * pco2MmHg * power(10, ph - 6.1);
}

function unexpectedDesaturation(po2MmHg: MmHg, so2Fraction: Fraction | undefined): boolean {
  return (
    so2Fraction !== undefined &&
    po2MmHg >= c.fullSaturationPo2MmHg.value &&
    so2Fraction < c.measuredSaturationTrustedBelow.value
  );
}

/** `45.0 mmHg (6.0 kPa)`. */
export function mmHgAndKPa(mmHg: MmHg): string {
  return `${fixed(mmHg, 1)} mmHg (${fixed(convert(mmHg, 'pressure', 'mmHg', 'kPa'), 1)} kPa)`;
}

export function percent(fraction: number, digits = 1): string {
  return `${fixed(100 * fraction, digits)} %`;
}
