import { rounded } from '../foundation/number-text.js';
import { cube, fourthPower } from '../foundation/power.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import type { MissedVessel } from '../witness/missed-vessels.js';
import type { Uncontrasted } from '../witness/uncontrasted.js';

/** Powers of the calibre by which feeders share a flow: Murray's law of least work (1926) and Poiseuille's law, both from memory. */
const POWERS = [cube, fourthPower];

/** Missed vessels and uncontrasted parts, with the keys of the result; empty if the scan was not searched. */
export function scanWitness({
  lesion,
  missed,
  uncontrasted,
}: {
  lesion: LesionMeasure;
  missed?: readonly MissedVessel[];
  uncontrasted?: readonly Uncontrasted[];
}): Pick<Result, 'missed' | 'uncontrasted'> {
  return {
    missed: missed?.map((one) => ({
      kind: one.kind,
      point_mm: one.pointMm,
      calibre_mm: one.calibreMm,
      length_mm: one.lengthMm,
      joins: one.joins,
      joins_at_mm: one.joinsAtMm,
      leads_to_mm: one.leadsToMm,
      end_mm: one.endMm,
      ...(one.kind === 'feeder-candidate' && { could_carry_percent: couldCarry(one.calibreMm, lesion) }),
    })),
    uncontrasted: uncontrasted?.map(({ where, volumeMl, pointMm }) => ({
      where,
      volume_ml: volumeMl,
      point_mm: pointMm,
    })),
  };
}

/** The part of the shunt that a vessel would carry as one more feeder, by calibre alone, percent. */
function couldCarry(calibreMm: number, { vessels }: LesionMeasure): [number, number] | undefined {
  const named = vessels.flatMap(({ role, landing, calibreMm: along }) =>
    role === 'feeder' ? [landing?.calibreMm ?? along.mean] : [],
  );
  if (named.length === 0) return undefined;
  const shares = POWERS.map((power) => {
    const own = power(calibreMm);
    return rounded((100 * own) / named.reduce((sum, d) => sum + power(d), own), 1);
  });
  return [Math.min(...shares), Math.max(...shares)];
}
