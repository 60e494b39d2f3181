import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { VesselMeasure } from './measure.js';

type Wide = Pick<VesselMeasure, 'name' | 'role' | 'calibreMm'>;

/**
 * A finding if the names of a feeder and a draining vein may be exchanged: the widest feeder has more than `ratio` times the mean calibre
 * of the widest draining vein. Nothing else in the surfaces distinguishes an artery from a vein.
 */
export function roleDoubt(vessels: readonly Wide[], ratio: number): Finding[] {
  const feeder = widest(vessels, 'feeder');
  const drain = widest(vessels, 'drain');
  if (!feeder || !drain || feeder.calibreMm.mean <= ratio * drain.calibreMm.mean) return [];
  return [
    finding(
      'caution',
      'feeder-wider-than-drain',
      feeder.name,
      `With ${fixed(feeder.calibreMm.mean, 1)} mm it is wider than the widest draining vein (${drain.name}, ${fixed(drain.calibreMm.mean, 1)} mm); in most lesions the vein is the wider. Make sure on the scan that no artery and vein carry each other's name: the artery comes from the pulmonary trunk and runs beside a bronchus, the vein runs apart from it to the left atrium. A device set free in the vein is carried to the brain or another organ.`,
    ),
  ];
}

const widest = (vessels: readonly Wide[], role: Wide['role']): Wide | undefined =>
  vessels
    .filter((one) => one.role === role)
    .reduce<Wide | undefined>(
      (best, one) => (best && best.calibreMm.mean >= one.calibreMm.mean ? best : one),
      undefined,
    );
