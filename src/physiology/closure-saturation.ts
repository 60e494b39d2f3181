import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import type { Closure, Shunt } from '../result/result.generated.js';
import { alveolarPo2 } from './alveolar-gas.js';
import { saturationFromShunt } from './saturation-from-shunt.js';
import { waterVapourPressure } from './water-vapour.js';

/** Blood and air that the saturation after a closure is predicted for. */
export interface SaturationModel {
  haemoglobinGDl: number;
  avDifferenceMlDl: number;
  ph?: number;
  alveolarOnAirMmHg: number;
  alveolarOnOxygenMmHg: number;
}

const c = CONSTANTS;

/**
 * Takes haemoglobin, pressure, PaCO2, pH and arterio-venous difference from the sample the shunt was worked from.
 * They are held as they are: right after closure haemoglobin, ventilation and output have not yet changed.
 */
export function saturationModel(
  shunt: Shunt,
  subject: Pick<Case, 'blood' | 'gases'>,
): { model?: SaturationModel; findings: Finding[]; assumed: string[] } {
  const { haemoglobinGDl } = subject.blood;
  if (haemoglobinGDl === undefined) {
    const text =
      'Haemoglobin is not given: saturations after closure are left out. The same shunt reads very differently in polycythaemia and anaemia.';
    return {
      findings: [finding('caution', 'closure-saturation-absent', 'blood.haemoglobin', text)],
      assumed: [],
    };
  }
  const sample = subject.gases.find((s) => s.name === shunt.sample && s.site === 'arterial');
  const barometricMmHg = shunt.barometric_mmhg ?? c.seaLevelPressureMmHg.value;
  const paCO2MmHg = sample?.pco2MmHg ?? c.assumedPaco2MmHg.value;
  const lungs = { barometricMmHg, paCO2MmHg, waterVapourMmHg: waterVapourPressure(c.bodyTemperatureC.value) };
  const model: SaturationModel = {
    haemoglobinGDl,
    avDifferenceMlDl: shunt.av_difference_ml_dl ?? c.assumedAvDifferenceMlDl.value,
    ph: sample?.ph,
    alveolarOnAirMmHg: alveolarPo2({ ...lungs, fio2: c.airOxygenFraction.value }),
    alveolarOnOxygenMmHg: alveolarPo2({ ...lungs, fio2: 1 }),
  };
  const assumed = [
    `saturations at haemoglobin ${fixed(haemoglobinGDl, 1)} g/dL, PaCO2 ${fixed(paCO2MmHg, 0)} mmHg, ${fixed(barometricMmHg, 0)} mmHg barometric pressure and an arterio-venous difference of ${fixed(model.avDifferenceMlDl, 1)} mL/dL, all unchanged`,
  ];
  return { model, findings: [], assumed };
}

/**
 * Writes both saturations and their intervals into a row. A saturation falls as the shunt rises, so the ends change places.
 * Returns why one is left out: arterial blood would have to hold less than no oxygen.
 */
export function closureSaturations(
  row: Closure,
  shuntFraction: number,
  interval: readonly [number, number],
  model: SaturationModel,
): string[] {
  const leftOut: string[] = [];
  const onAir = (f: number) => percentOf(f, model, model.alveolarOnAirMmHg);
  const onOxygen = (f: number) => percentOf(f, model, model.alveolarOnOxygenMmHg, 1);
  const intervals = row.intervals ?? {};
  for (const [key, of] of [
    ['so2_room_air_percent', onAir],
    ['so2_on_oxygen_percent', onOxygen],
  ] as const) {
    const value = of(shuntFraction);
    const low = of(interval[1]);
    const high = of(interval[0]);
    if (value === undefined) {
      leftOut.push(
        `no saturation ${key.includes('air') ? 'on air' : 'on oxygen'}: this shunt, haemoglobin and arterio-venous difference contradict each other`,
      );
      continue;
    }
    row[key] = value;
    if (low !== undefined && high !== undefined) intervals[key] = [low, high];
  }
  row.intervals = intervals;
  return leftOut;
}

function percentOf(
  f: number,
  model: SaturationModel,
  alveolarPo2MmHg: number,
  endCapillarySaturation?: number,
) {
  const answer = saturationFromShunt(f, { ...model, alveolarPo2MmHg, endCapillarySaturation });
  return answer && rounded(100 * answer.so2Fraction, 3);
}
