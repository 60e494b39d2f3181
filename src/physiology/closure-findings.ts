import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { VesselMeasure } from '../geometry/measure.js';
import type { Closure } from '../result/result.generated.js';
import type { FeederShares } from './feeder-shares.js';

/** Feeders without a share, and those that bring systemic blood. */
export function vesselFindings(vessels: readonly VesselMeasure[], shares: FeederShares): Finding[] {
  const found = shares.unusable.map((name) =>
    finding(
      'caution',
      'feeder-without-profile',
      name,
      `${name} has no usable calibre profile: the share of each feeder is not given. Repair or extend its surface.`,
    ),
  );
  for (const { name, role } of vessels) {
    if (role !== 'systemic-feeder') continue;
    found.push(
      finding(
        'caution',
        'systemic-feeder-stays',
        name,
        `${name} brings systemic blood: it is not in the virtual closure, and it may keep the sac open after the pulmonary feeders are closed.`,
      ),
    );
  }
  return found;
}

/** What closing everything here can be expected to achieve if other lesions exist or may exist. */
export function otherLesionFindings(
  others: 'yes' | 'unknown',
  rows: readonly Closure[],
  names: readonly string[],
  ofPatient: boolean,
): Finding[] {
  const all = rows.find((row) => row.closed !== 'lobe' && row.closed.length === names.length);
  const range = all?.intervals?.shunt_fraction;
  const left =
    range === undefined
      ? ''
      : ` With every feeder here closed the shunt left lies between ${fixed(100 * range[0], 1)} and ${fixed(100 * range[1], 1)} %.`;
  const [these, cure] = ofPatient
    ? ['these', 'Read the whole scan again.']
    : ['this one', 'Plan all lesions of the patient together.'];
  const text = `${others === 'yes' ? 'Other lesions exist that no surface here holds' : 'Whether other lesions exist is not known'}: how much of the measured shunt runs through ${these} is not known, and closing every feeder here gives no promise of the physiological shunt.${left} Shares of flow are upper bounds. ${cure}`;
  return [finding('caution', 'other-lesions', 'lesion.other_lesions', text)];
}

/** The proposed order of closing, and what a missed feeder would leave (stated only if the others are closed completely). */
export function orderFindings(
  order: readonly string[],
  rows: readonly Closure[],
  names: readonly string[],
): Finding[] {
  if (order.length < 2) return [];
  const found = [
    finding(
      'note',
      'closure-order',
      'closure',
      `By share of flow, close in the order ${order.join(', ')}. The team may choose another.`,
    ),
  ];
  for (const missed of order) {
    const others = names.filter((name) => name !== missed);
    const row = rows.find(
      (r) => r.closed !== 'lobe' && r.closed.length === others.length && !r.closed.includes(missed),
    );
    if (row?.shunt_fraction === undefined) continue;
    found.push(
      finding(
        'note',
        'missed-feeder',
        missed,
        `If ${missed} is missed, a shunt of ${row.shunt_fraction_is === 'at-least' ? 'at least ' : ''}${fixed(100 * row.shunt_fraction, 1)} % is left.`,
      ),
    );
  }
  return found;
}
