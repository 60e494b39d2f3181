import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { Mm } from '../foundation/unit-types.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { fillText } from '../rules/template.js';
import type { Assignment } from './allocate.js';
import { type Candidate, isCoil, trim } from './candidates.js';
import { type FeederToClose, type FitContext, hasCalibre } from './feeder.js';

type Device = Result['devices'][string];

/** What to do if nothing on the shelf fits the feeder, from the first such rule that holds. */
export function ifNone(feeder: FeederToClose & { calibreMm: Mm }, rules: Rules): Pick<Device, 'if_none'> {
  const facts = feederFacts(feeder);
  const rule = rulesOf(rules, 'advice').find(
    (entry) => entry.about === 'if-none' && judge(entry.when, facts, (id) => numberOf(rules, id)) === 'holds',
  );
  return rule === undefined ? {} : { if_none: fillText(rule.text, facts, rules.byId) };
}

function feederFacts(feeder: FeederToClose & { calibreMm: Mm }): Facts {
  const { calibreMm, largestWidthMm } = feeder;
  return {
    'feeder.name': feeder.name,
    'feeder.calibre': calibreMm,
    'feeder.zone': feeder.zoneLengthMm,
    'feeder.to_sac': feeder.toSacMm,
    'feeder.ovality_percent':
      largestWidthMm === undefined ? undefined : 100 * (largestWidthMm / calibreMm - 1),
  };
}

/** Cautions and notes of one feeder: those of the rules, and open questions about the chosen device. */
export function deviceFindings(
  feeder: FeederToClose,
  device: Device,
  assignment: Assignment | undefined,
  context: FitContext,
): Finding[] {
  if (!hasCalibre(feeder)) return [];
  const { rules, plannedDate, shelf } = context;
  const facts = { ...feederFacts(feeder), 'feeder.device_kind': device.kind };
  const found = rulesOf(rules, 'advice')
    .filter(
      (rule) => rule.about === 'feeder' && judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds',
    )
    .map((rule) => finding(rule.level, rule.id, feeder.name, fillText(rule.text, facts, rules.byId)));
  const add = (level: Finding['level'], id: string, text: string): void => {
    found.push(finding(level, id, feeder.name, text));
  };
  if (shelf === undefined) return found;
  if (feeder.zoneLengthMm === undefined) {
    add(
      'note',
      'zone-length-unknown',
      'The landing zone has no length, so no device was judged on its length.',
    );
  }
  if (assignment === undefined) {
    add('caution', 'no-device-fits', `${device.absent_because}. ${device.if_none ?? ''}`.trim());
    return found;
  }
  const { candidate, fromStock } = assignment;
  const { code } = candidate.device;
  if (device.borderline) add('caution', 'device-borderline', `${device.borderline_because}`);
  if (candidate.nickelDoubt) {
    const text = `The case lists a nickel allergy and the shelf file does not say whether ${code} contains nickel. Ask before use.`;
    add('caution', 'nickel-unknown', text);
  }
  if (candidate.device.kind === 'micro-plug' && !candidate.size.byInstructions) {
    const text = `The shelf file gives no vessel range for ${code}: its instructions for use decide whether it fits ${fixed(feeder.calibreMm, 2)} mm.`;
    add('caution', 'micro-plug-range-unknown', text);
  }
  if (isCoil(candidate.device) && candidate.count === undefined) {
    add(
      'note',
      'coil-length-unknown',
      `The shelf file gives no length for ${code}: the number of coils is not estimated.`,
    );
  }
  if (!fromStock) add('caution', 'device-not-on-shelf', notOnShelf(candidate, device.ready_by));
  if (plannedDate !== undefined && device.ready_by !== undefined && device.ready_by > plannedDate) {
    const text = `${code} is there by ${device.ready_by}, after the planned date ${plannedDate}. Move the date or see the alternates.`;
    add('caution', 'device-after-planned-date', text);
  }
  return found;
}

function notOnShelf({ device, count }: Candidate, readyBy: string | undefined): string {
  const stock =
    device.inStock === undefined ? 'the shelf file does not say how many' : `${device.inStock} in stock`;
  const need = count === undefined ? 'at least 1' : String(count);
  const when =
    readyBy !== undefined
      ? `ordered today it is there by ${readyBy}`
      : device.leadTimeDays === undefined
        ? 'the shelf file gives no lead time'
        : `it takes ${trim(device.leadTimeDays)} days and no date is given to count from`;
  return `${device.code}: ${need} needed, ${stock} (pieces planned for other feeders count as taken); ${when}.`;
}
