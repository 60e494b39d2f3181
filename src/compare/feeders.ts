import { fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import type { VesselMatch } from './match-vessels.js';

/** Whether a treatment is between, before or after the two scans. */
export type Course = 'untreated' | 'treated-between' | 'treated-before';

/** A feeder that appeared, disappeared, stayed open after a treatment, or may be one that was not measured on the new scan. */
export interface FeederChange {
  name: string;
  what: 'new' | 'back' | 'gone' | 'not-measured' | 'still-open';
  text: string;
}

/** Feeders that appeared, disappeared or stayed open, in words; `matches` from `matchVessels`. */
export function feederChanges(
  old: Result,
  now: Result,
  matches: readonly VesselMatch[],
  course: Course,
  rules: Rules,
): FeederChange[] {
  const changes: FeederChange[] = [];
  const mechanism = mechanismText(rules);
  for (const { role, oldName, newName } of matches) {
    if (role !== 'feeder' && role !== 'systemic-feeder') continue;
    const kind = role === 'feeder' ? 'feeding artery' : 'systemic feeding artery';
    const calibre = (result: Result, name: string): string =>
      `${fixed(result.vessels[name].calibre_mm.mean, 1)} mm mean calibre`;
    if (oldName === undefined && newName !== undefined) {
      changes.push(
        arrived(newName, `${kind}, ${calibre(now, newName)}`, role === 'feeder', course, mechanism),
      );
    } else if (
      newName === undefined &&
      oldName !== undefined &&
      role === 'feeder' &&
      unmeasuredFeeders(now) > 0
    ) {
      const unmeasured = unmeasuredFeeders(now);
      const which =
        unmeasured === 1
          ? '1 feeding artery that the new case names has'
          : `${unmeasured} feeding arteries that the new case names have`;
      changes.push({
        name: oldName,
        what: 'not-measured',
        text: `${oldName} (${kind}, ${calibre(old, oldName)}) matches no vessel measured on the new scan, but ${which} no measurements (see the stops of the new plan) and may be this one. It is not taken for closed: correct the surface and plan again.`,
      });
    } else if (newName === undefined && oldName !== undefined) {
      const text =
        course === 'untreated'
          ? `${oldName} (${kind}, ${calibre(old, oldName)}) is no longer seen, and no treatment between the scans is stated. Look for it on the images: it may have been left out of the segmentation.`
          : `${oldName} (${kind}, ${calibre(old, oldName)}) is no longer seen: closed, too thin for the scan, or left out of the segmentation. Absence from the model does not prove closure.`;
      changes.push({ name: oldName, what: 'gone', text });
    } else if (oldName !== undefined && course === 'treated-between') {
      changes.push({
        name: oldName,
        what: 'still-open',
        text: `${oldName} (${kind}, ${calibre(now, newName as string)}) still carries blood after the treatment: recanalised through its device, or never closed. ${mechanism}`,
      });
    }
  }
  return changes;
}

/** Number of feeding arteries that the case names without a measurement in its result. */
function unmeasuredFeeders({ lesion, vessels }: Pick<Result, 'lesion' | 'vessels'>): number {
  const measured = Object.values(vessels).filter(({ role }) => role === 'feeder').length;
  return Math.max(0, (lesion.feeder_count ?? 0) - measured);
}

function arrived(
  name: string,
  what: string,
  pulmonary: boolean,
  course: Course,
  mechanism: string,
): FeederChange {
  if (course === 'untreated')
    return {
      name,
      what: 'new',
      text: `${name} (${what}) was not in the old plan: it grew, or it was missed. Look for it on the old images.`,
    };
  const back = course === 'treated-before' && pulmonary;
  const how = back
    ? 'carries blood again: recanalised through its device, or reperfused from a neighbour'
    : pulmonary
      ? 'was not in the old plan and feeds the sac after the treatment: reperfused from a neighbouring branch, or missed before'
      : 'was not in the old plan and feeds the sac after the treatment: a systemic collateral';
  return { name, what: back ? 'back' : 'new', text: `${name} (${what}) ${how}. ${mechanism}` };
}

function mechanismText(rules: Rules): string {
  const source = rules.byId.get('persistence-recanalised')?.source ?? '';
  const through = fixed(numberOf(rules, 'persistence-recanalised'), 0);
  const around = fixed(numberOf(rules, 'persistence-reperfused'), 0);
  return `Among persistent lesions ${through} % were recanalised and ${around} % reperfused from neighbours (${sourceText(source)}).`;
}
