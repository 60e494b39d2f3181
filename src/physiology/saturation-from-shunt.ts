import type { Fraction, GPerDl, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { oxygenContent } from './oxygen-content.js';
import { saturationFromPo2 } from './oxygen-saturation.js';

export interface BloodBehindShunt {
  haemoglobinGDl: GPerDl;
  alveolarPo2MmHg: MmHg;
  /** Arterio-venous difference of content, mL/dL. */
  avDifferenceMlDl: MlPerDl;
  /** 1 on 100 % oxygen; default: from the curve at the alveolar PO2. */
  endCapillarySaturation?: number;
  ph?: number;
}

/**
 * Arterial saturation and PO2 for a given shunt, by oxygen balance.
 *
 * Formula   Ca = Cc' − D·f/(1 − f); the PO2 that satisfies 1.34·Hb·S(P) + 0.0031·P = Ca, by bisection
 * Source    mass balance (Berggren 1942, inverted) [berggren-1942]
 * Units     f 0..1; result saturation 0..1 and mmHg
 * Valid     undefined if Ca would be negative
 * Checked   tests/check-values/shunt.csv; shunt 28 % and 44 % give the published 89 % and 80 % (Thorax 1994;49:327 [ueki-1994])
 * @example  saturationFromShunt(0.28, { haemoglobinGDl: 15, alveolarPo2MmHg: 100, avDifferenceMlDl: 5 })?.so2Fraction   // 0.888
 */
export function saturationFromShunt(
  shuntFraction: Fraction,
  blood: BloodBehindShunt,
  steps = 60,
): { so2Fraction: Fraction; po2MmHg: MmHg } | undefined {
  if (!(shuntFraction >= 0 && shuntFraction < 1) || !(blood.alveolarPo2MmHg > 0)) return undefined;
  const { haemoglobinGDl, alveolarPo2MmHg, ph } = blood;
  const endCapillary = blood.endCapillarySaturation ?? saturationFromPo2(alveolarPo2MmHg, { ph });
  const arterial =
    oxygenContent(haemoglobinGDl, endCapillary, alveolarPo2MmHg) -
    (blood.avDifferenceMlDl * shuntFraction) / (1 - shuntFraction);
  if (arterial < 0) return undefined;
  const contentAt = (po2: number) => oxygenContent(haemoglobinGDl, saturationFromPo2(po2, { ph }), po2);
  let low = 0;
  let high = alveolarPo2MmHg;
  if (contentAt(high) <= arterial) return { so2Fraction: endCapillary, po2MmHg: high };
  for (let i = 0; i < steps; i++) {
    const middle = (low + high) / 2;
    if (contentAt(middle) < arterial) low = middle;
    else high = middle;
  }
  const po2MmHg = (low + high) / 2;
  return { so2Fraction: saturationFromPo2(po2MmHg, { ph }), po2MmHg };
}
