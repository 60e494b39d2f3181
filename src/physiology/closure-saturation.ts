import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { Fraction, GPerDl, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import type { Closure, Shunt } from '../result/result.generated.js';
import { alveolarPo2 } from './alveolar-gas.js';
import { middle95 } from './seeded-random.js';
import { type BloodBehindShunt, saturationFromShunt } from './saturation-from-shunt.js';
import { waterVapourPressure } from './water-vapour.js';

/** Blood and gas for predicting the saturation after a closure. */
export interface SaturationModel {
  haemoglobinGDl: GPerDl;
  avDifferenceMlDl: MlPerDl;
  ph?: number;
  barometricMmHg: MmHg;
  paCO2MmHg: MmHg;
  alveolarOnAirMmHg: MmHg;
  alveolarOnOxygenMmHg: MmHg;
}

const c = CONSTANTS;

/**
 * Takes haemoglobin, pressure, PaCO2, pH and arterio-venous difference from the sample of the shunt. They are kept constant, because
 * right after closure haemoglobin, ventilation and output have not yet changed.
 */
export function saturationModel(
  shunt: Shunt,
  patientCase: Pick<Case, 'blood' | 'gases'>,
): { model?: SaturationModel; findings: Finding[]; assumed: string[] } {
  const { haemoglobinGDl } = patientCase.blood;
  if (haemoglobinGDl === undefined) {
    const text =
      'Haemoglobin is not given: saturations after closure are left out. The same shunt reads very differently in polycythaemia and anaemia.';
    return {
      findings: [finding('caution', 'closure-saturation-absent', 'blood.haemoglobin', text)],
      assumed: [],
    };
  }
  const sample = patientCase.gases.find((s) => s.name === shunt.sample && s.site === 'arterial');
  const barometricMmHg = shunt.barometric_mmhg ?? c.seaLevelPressureMmHg.value;
  const paCO2MmHg = sample?.pco2MmHg ?? c.assumedPaco2MmHg.value;
  const model: SaturationModel = {
    haemoglobinGDl,
    avDifferenceMlDl: shunt.av_difference_ml_dl ?? c.assumedAvDifferenceMlDl.value,
    ph: sample?.ph,
    ...modelAt({ barometricMmHg, paCO2MmHg }),
  };
  const assumed = [
    `saturations at unchanged haemoglobin ${fixed(haemoglobinGDl, 1)} g/dL, PaCO2 ${fixed(paCO2MmHg, 0)} mmHg, barometric pressure ${fixed(barometricMmHg, 0)} mmHg, arterio-venous difference ${fixed(model.avDifferenceMlDl, 1)} mL/dL`,
  ];
  return { model, findings: [], assumed };
}

/** The lung part of the model: alveolar PO2 on air and on oxygen at this pressure and PaCO2. */
export function modelAt({
  barometricMmHg,
  paCO2MmHg,
}: Pick<SaturationModel, 'barometricMmHg' | 'paCO2MmHg'>): Pick<
  SaturationModel,
  'barometricMmHg' | 'paCO2MmHg' | 'alveolarOnAirMmHg' | 'alveolarOnOxygenMmHg'
> {
  const waterVapourMmHg = waterVapourPressure(c.bodyTemperatureC.value);
  const alveolarAt = (fio2: Fraction) => alveolarPo2({ fio2, barometricMmHg, paCO2MmHg, waterVapourMmHg });
  return {
    barometricMmHg,
    paCO2MmHg,
    alveolarOnAirMmHg: alveolarAt(c.airOxygenFraction.value),
    alveolarOnOxygenMmHg: alveolarAt(1),
  };
}

/** A shunt and its blood. */
export interface ShuntedBlood {
  shuntFraction: Fraction;
  model: SaturationModel;
}

const SATURATIONS = [
  { key: 'so2_room_air_percent', words: 'on air' },
  { key: 'so2_on_oxygen_percent', words: 'on oxygen' },
] as const;

/**
 * Writes both saturations and their 95 % intervals into a row: the union of the middle 95 % of each list of draws; the interval always
 * contains the value. Returns the reasons for missing ones: arterial blood would need a negative oxygen content.
 */
export function closureSaturations(
  row: Closure,
  central: ShuntedBlood,
  states: readonly (readonly ShuntedBlood[])[],
): string[] {
  const leftOut: string[] = [];
  const intervals = row.intervals ?? {};
  for (const { key, words } of SATURATIONS) {
    const value = percentOf(key, central);
    if (value === undefined) {
      leftOut.push(
        `no saturation ${words}: this shunt, haemoglobin and arterio-venous difference contradict each other`,
      );
      continue;
    }
    row[key] = rounded(value, 3);
    const ends = states.flatMap((draws) =>
      middle95(Float64Array.from(draws, (draw) => percentOf(key, draw, DRAW_STEPS) ?? 0)),
    );
    intervals[key] = [rounded(Math.min(value, ...ends), 3), rounded(Math.max(value, ...ends), 3)];
  }
  row.intervals = intervals;
  return leftOut;
}

/** Bisection steps for a PO2 within an interval: from 700 mmHg to 0.0001 mmHg. */
const DRAW_STEPS = 23;

function percentOf(
  key: (typeof SATURATIONS)[number]['key'],
  { shuntFraction, model }: ShuntedBlood,
  steps?: number,
): number | undefined {
  const isOnAir = key === 'so2_room_air_percent';
  const blood: BloodBehindShunt = {
    haemoglobinGDl: model.haemoglobinGDl,
    avDifferenceMlDl: model.avDifferenceMlDl,
    ph: model.ph,
    alveolarPo2MmHg: isOnAir ? model.alveolarOnAirMmHg : model.alveolarOnOxygenMmHg,
    endCapillarySaturation: isOnAir ? undefined : 1,
  };
  const answer = saturationFromShunt(shuntFraction, blood, steps);
  return answer && 100 * answer.so2Fraction;
}
